"""The nights to come: in how many hours of them each goal may be shot, and how much scarce goals count more.

In: a request and the sky of its night. Out: hours and a factor for each goal. Tonight's `clear`, `blocked`
and `clear_odds` play no part: they say nothing of the other nights. May import mount.
"""

from optimizer.ahead.factors import (
    Scarcity,
    factors_in_season,
    scarcity_carried,
    scarcity_of,
    scarcity_told,
)

__all__ = ["Scarcity", "factors_in_season", "scarcity_carried", "scarcity_of", "scarcity_told"]
