"""What the rig really takes: times between the shutters of consecutive frames -> the length of each act.

In: the frames of a folder, the request they were taken for, perhaps the list of a night. Out: for each act
(download and overhead, dither, filter change, autofocus, slew and centring, flip) its median and span beside
the request's number, and the lines of the request to change. May import pace and night.
"""
