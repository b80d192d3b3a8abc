"""Shot lists as JSON and CSV files, written whole or not at all, and read back.

In: a shot list or its steps, and paths. Out: files, and what they hold. May import reading, diagnostics and
models.
"""
