"""A folder with its subfolders -> its frames and its damaged files, in the order of their names."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator
from pathlib import Path

from optimizer.tally.frames import Damaged, Frame

Tell = Callable[[int, int], None]  # files done, files in all


def read_folder(
    folder: Path, skip_folders: Collection[str] = (), tell: Tell | None = None
) -> Iterator[Frame | Damaged]:
    """Read the headers of all FITS files in a folder and the folders in it; nothing there is changed.

    Folders whose name is among `skip_folders` (in whatever case) are left out. `tell` is called after each
    file. Raises InputError where `folder` itself is no folder or may not be read.
    """
    raise NotImplementedError
    yield
