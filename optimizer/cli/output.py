"""What goes to stdout as data."""

from __future__ import annotations

import json
import sys
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from optimizer.models.base import Frozen


def print_json(model: Frozen) -> None:
    """One JSON document; signs that stdout cannot write are escaped."""
    from optimizer.models.base import as_json_data

    text = json.dumps(as_json_data(model), indent=2, ensure_ascii=False)
    try:
        text.encode(sys.stdout.encoding or "ascii")
    except UnicodeEncodeError:
        text = json.dumps(as_json_data(model), indent=2)
    sys.stdout.write(text + "\n")
    sys.stdout.flush()
