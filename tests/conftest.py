"""What is shown is as wide as a pipe has it, whatever terminal the tests run in."""

import os

os.environ.pop("COLUMNS", None)
# The runner loads readline, which tells COLUMNS to child processes alone, past `os.environ`.
os.unsetenv("COLUMNS")
