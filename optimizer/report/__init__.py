"""Plans, windows, flips and audits as people read them: text for every width, and pictures.

In: a shot list, an audit report, windows, comparisons. Out: text for a terminal, and a page or picture. May
import everything of the package but its API and the command line.
"""
