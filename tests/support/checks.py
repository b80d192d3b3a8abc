"""What tests ask of values before they go on with them."""

from __future__ import annotations

from typing import TypeVar

T = TypeVar("T")


def there(value: T | None) -> T:
    """The value, which must not be missing."""
    assert value is not None
    return value
