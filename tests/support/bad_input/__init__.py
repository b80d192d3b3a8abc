"""Every case of bad input, and the exact words a person is told."""
