"""Shot lists -> views: one plan as visits, as blocks, as steps and as totals, for the programs of others.

In: a `ShotList`, or steps with the request that they were made for. Out: a `PlanView`, whose keys are kept
stable and told in plans/SHOTS.md. May import the models and `words`; knows nothing of planning, of files, and
of how anything is drawn.
"""
