"""darkfill: fills the dark hours with open shutter."""

__version__ = "0.1.0"
