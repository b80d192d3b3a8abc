"""A night as it goes: a list and an instant -> what runs by the plan, what comes next, what the images say.

In: a shot list, an instant, perhaps a folder that images arrive in. Out: the moment by the plan, the frames
seen, how late the night runs and what that costs. Nothing in the folder is written, and no mount is asked:
all that is said of it is "by the plan". May import pace and night.
"""
