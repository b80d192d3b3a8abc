"""Plans made and made better: a problem or a plan comes in, a plan that keeps every rule goes out.

`constructed` makes a first plan in one pass, `following` one along a draft. Each `Search` improves a plan:
`RuinAndRecreate` from one start, `MultiStart` again and again from the best so far. May import the bound's
graph, plans and schedules; nothing of the constraint model.
"""
