"""The version, where every room may read it."""

from typing import Final

__version__: Final = "0.1.0"
