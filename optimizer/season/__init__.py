"""The season: many nights of one rig or several, planned together under odds of clear sky, with a proof.

In: a request for each rig, of which the first has the `[season]`. Out: real plans of all nights, a bound on
what any policy can expect, values of frames tonight, dates. May import night and what stands above it in the
house.
"""
