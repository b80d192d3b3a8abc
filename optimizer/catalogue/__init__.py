"""Names of deep-sky objects looked up offline: in a catalogue of one's own, in OpenNGC, in Sharpless's.

In: a name as people write it. Out: the catalogue's own name and place. It may import `words` alone, for
models that are given a name and no coordinates ask it while they are validated.
"""
