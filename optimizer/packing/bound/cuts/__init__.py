"""Rows of the restricted master beyond the goals' caps: each holds for every plan and cuts off mixtures."""
