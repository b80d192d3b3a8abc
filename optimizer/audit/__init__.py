"""Every rule again, from the request and the steps alone, by another route through the sky.

`audit_steps` checks any steps against a request; `audit_shot_list` checks one of our own lists with its
totals, proof and night facts. Nothing here trusts, or imports, what plans.
"""

from optimizer.audit.report import audit_shot_list, audit_steps

__all__ = ["audit_shot_list", "audit_steps"]
