"""Nights laid by hand, step after step, and what breaks when one fact of them is changed."""
