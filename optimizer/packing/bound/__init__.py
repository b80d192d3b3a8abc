"""The bound that proves: a problem comes in, a number that no plan exceeds goes out, with duals and columns.

May import plans, schedules and the problem; nothing of the searches or of the constraint model. The story is
told in README.md beside this file.
"""
