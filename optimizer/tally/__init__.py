"""The subs in hand: headers of a folder of FITS files -> frames -> counts in a tally file.

In: a folder of images, of which only the headers are read, and a request. Out: `Frame`s and `Damaged` files,
the goals that they count for, a tally file and the list of files seen. Nothing in the folder is ever written,
moved or locked. May import diagnostics, the models, the catalogue, `words` and
`errors`; `reading` counts with its tally file.
"""
