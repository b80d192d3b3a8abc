"""Frozen models of request, rig, site, targets and shot list, with units in the names of their fields.

In: plain data (tables, lists, text, numbers). Out: a valid, frozen model, or pydantic's ValidationError.
May import the catalogue (a target given by its name alone is looked up while it is validated) and `words`.
"""
