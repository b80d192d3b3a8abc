"""Cuts of the bound: a graph comes in, rows that every plan keeps go out, one module for each kind.

May import the graph and columns; nothing of the search for duals. `cut_list` has all of them in order.
"""
