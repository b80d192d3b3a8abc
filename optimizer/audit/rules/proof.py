"""The proof's numbers: the objective is that of the steps, the bound is not below it, the gap is theirs."""

from __future__ import annotations

from collections.abc import Iterator

from optimizer.audit.scene import Scene
from optimizer.audit.tolerances import WEIGHTED_SECONDS
from optimizer.audit.worth import Worth
from optimizer.models.shots import Proof, Violation

NAME = "proof"
GAP_DIGIT = 1e-6


def check_proof(scene: Scene, proof: Proof, worth: Worth) -> Iterator[Violation]:
    """Wrong values of objective, bound and gap, and a status that does not fit them."""
    off = abs(worth.value_s - proof.objective)
    if off > worth.value_forgiven_s:
        yield scene.violation(
            NAME,
            None,
            off,
            "weighted s",
            f"objective says {proof.objective:g}; the value of the subs is {worth.value_s:g}",
        )
    short = proof.objective - proof.bound
    if short > WEIGHTED_SECONDS:
        yield scene.violation(
            NAME,
            None,
            short,
            "weighted s",
            f"the bound {proof.bound:g} lies below the objective {proof.objective:g}",
        )
    gap = max(0.0, -short) / proof.objective if proof.objective > 0 else None
    if gap is not None and abs(gap - proof.gap) > GAP_DIGIT:
        yield scene.violation(
            NAME,
            None,
            abs(gap - proof.gap),
            "gap",
            f"gap says {proof.gap:g}; (bound - objective) / objective is {gap:.6f}",
        )
    if proof.gap < 0:
        yield scene.violation(NAME, None, -proof.gap, "gap", f"the gap {proof.gap:g} is negative")
    allowed = scene.request.aim.gap
    if proof.status == "optimal" and proof.gap > allowed + GAP_DIGIT:
        yield scene.violation(
            NAME,
            None,
            proof.gap - allowed,
            "gap",
            f"optimal with a gap of {proof.gap:g}; aim.gap is {allowed:g}",
        )
