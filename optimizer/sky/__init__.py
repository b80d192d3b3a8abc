"""Where things are in the sky, and when: places, crossings, moonlight, windows.

Nothing is imported here, so that a caller pays only for the module that it asks for.
"""
