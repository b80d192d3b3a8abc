"""Tiny seasons held against all that their nights can bring, by code that shares nothing with the planner."""
