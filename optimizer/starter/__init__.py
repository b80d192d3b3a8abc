"""The files of a starter: a request, its site and its rig, with every key and what it means.

In: the schema of a request, for the words, limits and defaults, and a few values of an invented observatory.
Out: texts by file name. They write no files.
"""
