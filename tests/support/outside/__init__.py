"""What the checks against reference libraries share."""
