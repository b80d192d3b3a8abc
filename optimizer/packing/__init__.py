"""Packing: which visits, in what order, with which runs; the constraint model, its rules and its proof."""
