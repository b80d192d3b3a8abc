"""The constraint model: a problem and a plan come in, a better plan and often a proof go out.

May import plans, schedules and the problem; it knows nothing of the bound or of the searches.
"""
