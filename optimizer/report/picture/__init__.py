"""The night as a picture and as a page: one drawing, inline SVG, in lanes under one scale of time."""
