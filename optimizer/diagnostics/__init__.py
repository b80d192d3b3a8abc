"""Findings -> words: what is wrong with an input, where it stands, and what would be right.

In: a `Document` (data that knows which file and line each key came from) with pydantic's findings, a parser's
refusal, or a valid request that deserves a second look. Out: `InputProblem`s with file, line, key, value,
unit and remedy. May import the models, the catalogue, `words` and `errors`; opens no file.
"""
