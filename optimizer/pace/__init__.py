"""How a list really goes: images -> the subs that they are of; a late list -> what it still gives.

In: a shot list, the frames of its night, an instant, how long steps really last. Out: which sub each frame
is, how late the list runs, which subs a late list loses, how late it may still run. May import the models and
`tally`.
"""
