"""Files -> models: TOML and JSON text, includes, skyline files, or every problem in them at once.

In: paths, or plain data as `json` reads it. Out: a valid, frozen `Request` or `ShotList`; else InputError
with all problems in file order. May import diagnostics, the models, the catalogue, `words` and `errors`.
"""
