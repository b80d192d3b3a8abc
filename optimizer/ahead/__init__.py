"""The nights to come: in how many hours of them each goal may be shot, and how much scarce goals count more.

In: a request and the sky of its night. Out: hours and a factor for each goal. Tonight's `clear`, `blocked`
and `clear_odds` play no part: they say nothing of the other nights. May import mount.
"""

from optimizer.ahead.factors import Scarcity, scarcity_carried, scarcity_of, scarcity_told
from optimizer.ahead.kept_season import KeptSeason

__all__ = ["KeptSeason", "Scarcity", "scarcity_carried", "scarcity_of", "scarcity_told"]
