"""What open shutter gathers where not every second counts alike."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optimizer.sky.clock import FloatArray

Seconds = int | NDArray[np.int64]


@dataclass(frozen=True)
class GatheredCurve:
    """Seconds gathered from the night's origin to each second, each counted by its weight.

    `gathered_s` has shape (SPAN_S + 1,).
    """

    gathered_s: FloatArray

    @classmethod
    def of_weights(cls, weights: FloatArray) -> GatheredCurve:
        """Add up weights, shape (SPAN_S + 1,), that run straight from each whole second to the next."""
        return cls(np.concatenate([[0.0], np.cumsum((weights[1:] + weights[:-1]) / 2.0)]))

    def between_s(self, opens_s: Seconds, closes_s: Seconds) -> FloatArray:
        """Weighted seconds that an open shutter gathers between whole seconds after the origin."""
        return np.asarray(self.gathered_s[closes_s] - self.gathered_s[opens_s])

    def times(self, other: GatheredCurve) -> GatheredCurve:
        """Count each second by both of its mean weights, multiplied.

        The mean of a product is taken as the product of the means: what is lost is a twelfth of the product
        of both changes within the second, less than one part in 100,000 where the Moon rises while the odds
        fall by one per cent a second.
        """
        each = np.diff(self.gathered_s) * np.diff(other.gathered_s)
        return GatheredCurve(np.concatenate([[0.0], np.cumsum(each)]))
