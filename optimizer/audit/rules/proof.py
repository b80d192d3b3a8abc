"""The proof's numbers: the objective is that of the steps, the bound is not below it, the gap is theirs."""

from __future__ import annotations

from collections.abc import Iterator

from optimizer.audit.odds import counted_seconds
from optimizer.audit.scene import Scene
from optimizer.audit.tolerances import DEPTH_SHARE, WEIGHTED_SECONDS
from optimizer.models.shots import Proof, Violation

NAME = "proof"
GAP_DIGIT = 1e-6


def _value(scene: Scene) -> tuple[float, float]:
    """Value of the exposures in weighted seconds, and by how much the list's figure may differ."""
    rows = [row for row in scene.rows if row.kind == "expose" and scene.target(row.target) is not None]
    by_depth, by_odds = scene.request.aim.value == "depth", bool(scene.request.night.clear_odds)
    seconds = counted_seconds(scene, rows)
    value = sum(
        scene.request.targets[row.target].weight * float(each)
        for row, each in zip(rows, seconds, strict=True)
    )
    forgiven = WEIGHTED_SECONDS
    if by_depth or by_odds:  # each frame is rounded down
        forgiven += WEIGHTED_SECONDS * len(rows)
    if by_depth:  # the weight is that of two routes through the sky
        forgiven += DEPTH_SHARE * value
    return value, forgiven


def check_proof(scene: Scene, proof: Proof) -> Iterator[Violation]:
    """Wrong values of objective, bound and gap, and a status that does not fit them."""
    value, forgiven = _value(scene)
    if abs(value - proof.objective) > forgiven:
        yield scene.violation(
            NAME,
            None,
            abs(value - proof.objective),
            "weighted s",
            f"objective says {proof.objective:g}; the value of the subs is {value:g}",
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
