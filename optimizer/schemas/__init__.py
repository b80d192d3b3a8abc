"""JSON Schemas (2020-12) of what is written by hand or by programs: requests, shot lists, tallies.

In: the models. Out: one schema for each kind of file, as data or as text, with titles, descriptions and the
unit of each number as `x-unit`. A schema knows limits and names, not what two keys say to one another:
`tests/schemas` lists what only reading a file finds.
"""
