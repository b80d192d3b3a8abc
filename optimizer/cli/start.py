"""Where the console script begins: Ctrl-C is in good hands before anything that takes time is loaded."""

from __future__ import annotations

from optimizer import ctrl_c


def main() -> None:
    """Set the handler for Ctrl-C, then load the commands and run the one that is asked for."""
    ctrl_c.install()
    from optimizer.cli.app import main as run

    run()
