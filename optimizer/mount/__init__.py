"""Pier sides, the zone around the meridian, the motion of the axes, and the arithmetic of the flip.

In: a request and the windows of its sky. Out: windows for each pier side, slew times, flip times. May import
sky and models.
"""
