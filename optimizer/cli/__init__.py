"""The command line: one file per command; arguments, calls and words for people."""
