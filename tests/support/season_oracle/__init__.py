"""The best of tiny seasons, by going through all that their nights can bring; nothing comes from the planner."""
