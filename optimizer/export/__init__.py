"""Shot lists -> files, and back: JSON and CSV, each file whole or not at all.

In: a `ShotList`, or the path of one. Out: files, or OutputError; a `ShotList` or its steps, or InputError.
May import reading, diagnostics, the models, `words` and `errors`; knows nothing of planning.
"""
