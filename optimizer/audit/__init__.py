"""The second check of every rule, from the request and the steps alone, with a sky computed by other code.

`audit_steps` checks any steps against a request; `audit_shot_list` checks one of our own lists with its
totals, proof and night facts; `audit_joined` checks a list and the one that goes on with it as one night.
`value_of` says what steps of a list are worth at the times at which they really are.
Nothing here trusts or imports what plans: it may import models, and `sky/orientation.py` for the table of the
Earth's orientation.
"""

from optimizer.audit.joined import audit_joined
from optimizer.audit.report import audit_shot_list, audit_steps, value_of

__all__ = ["audit_joined", "audit_shot_list", "audit_steps", "value_of"]
