"""Packing: a `Problem` comes in, a `Solution` (plan, schedule, bound) goes out.

`solve` is the order of play; `plan` and `schedule` are the types that all of it shares. May import the
problem and what lies below it; nothing of a request.
"""
