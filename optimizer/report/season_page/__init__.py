"""The season as a page: one file with a map of targets by nights, and each night and target in detail."""
