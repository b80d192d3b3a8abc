"""One rule, one small module; each has one `build(model, night)` that adds its rows."""
