"""The best rest of a night that went another way than its list.

In: the older list, an instant, and what is told of the mount, of what was done and of what is lost. Out: a
new list that goes on from there, and what it changes. May import night.
"""

from optimizer.replan.replanned import LIMIT_S, Rest, rest_of
from optimizer.replan.told import Told, targets_left_out

__all__ = ["LIMIT_S", "Rest", "Told", "rest_of", "targets_left_out"]
