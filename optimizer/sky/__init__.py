"""Where things are in the sky, and when: places, crossings, moonlight, windows.

In: a request. Out: places of Sun, Moon and targets, the night's windows with what opens and closes each, and
the night's facts. May import models. Nothing is imported here, so that a caller pays only for the module that
it asks for.
"""
