"""Nights for every mode of a mount, and what a shot list does around the meridian."""
