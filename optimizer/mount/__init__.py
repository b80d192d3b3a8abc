"""The mount: pier sides, the zone around the meridian, axis motion, flip arithmetic."""
