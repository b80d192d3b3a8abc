"""Every case of bad input: what the command line gets, and the exact words a person is told.

`REQUESTS` go to whatever reads a request, `SHOTS` to whatever reads a shot list. The files have bare
names: write them into an empty folder (`Case.write`) and work there, so that the messages come out as here.
"""

from tests.support.bad_input.catalogue import CATALOGUE
from tests.support.bad_input.files import FILES
from tests.support.bad_input.odds import ODDS
from tests.support.bad_input.season import SEASON
from tests.support.bad_input.shapes import SHAPES
from tests.support.bad_input.shots import SHOTS
from tests.support.bad_input.table import Case
from tests.support.bad_input.tally import TALLY
from tests.support.bad_input.targets import TARGETS
from tests.support.bad_input.typed import TYPED
from tests.support.bad_input.values import VALUES
from tests.support.bad_input.worth import WORTH

REQUESTS: list[Case] = [
    *VALUES,
    *WORTH,
    *SHAPES,
    *FILES,
    *ODDS,
    *SEASON,
    *TALLY,
    *TYPED,
    *CATALOGUE,
    *TARGETS,
]
ALL: list[Case] = [*REQUESTS, *SHOTS]

__all__ = ["ALL", "REQUESTS", "SHOTS", "Case"]
