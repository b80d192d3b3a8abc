"""What people see: the night at a glance, visits, progress, windows and findings as text."""
