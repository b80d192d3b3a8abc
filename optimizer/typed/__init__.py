"""A plan typed by hand with few columns -> the steps that it means, and what of them was inferred.

In: the rows of such a file and the request that they are for. Out: whole steps for the audit, which judges
them like any others. Nothing here decides whether a plan is good.
"""

from optimizer.typed.inferred import Inferred, Typed
from optimizer.typed.steps import typed_steps

__all__ = ["Inferred", "Typed", "typed_steps"]
