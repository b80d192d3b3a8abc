"""The exact optimum of small nights, found by going through every plan that the law allows."""
