"""Plans made and made better: a problem or a plan comes in, a plan that keeps every rule goes out.

`constructed` makes a first plan in one pass; each `Search` improves one that there is. May import the bound's
graph, plans and schedules; nothing of the constraint model.
"""
