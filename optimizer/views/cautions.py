"""What a person must have read before a list is run, whatever program runs it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from optimizer.models.request import Request
from optimizer.models.shots import AuditReport, ShotList, Step
from optimizer.views.models import VisitView
from optimizer.words import listing

LIMITS = "Set the mount's own limits: a list plans, it does not guard."
NO_AUDIT = "This list was not audited: nothing is known of whether it is safe."


def cautions_of(
    request: Request,
    steps: Sequence[Step],
    audit: AuditReport | None,
    shots: ShotList | None,
    visits: Sequence[VisitView],
) -> tuple[str, ...]:
    """Gather sentences: what the audit says, what the mount does, and what a turned field asks for."""
    return (
        *_of_the_audit(audit),
        LIMITS,
        *_of_the_mount(request, steps, visits),
        *_of_the_list(shots),
    )


def _of_the_audit(audit: AuditReport | None) -> Iterable[str]:
    if audit is None:
        yield NO_AUDIT
        return
    if audit.violations:
        breaches = "one breach" if len(audit.violations) == 1 else f"{len(audit.violations)} breaches"
        yield f"This list is not safe as it stands: its audit found {breaches} of the rules."
    yield from (finding.message for finding in audit.quality)


def _of_the_mount(request: Request, steps: Sequence[Step], visits: Sequence[VisitView]) -> Iterable[str]:
    mount = request.mount
    if not mount.flips:
        return
    if mount.contact_min is None:
        yield "Contact was never measured: on pier side west nothing may track past the meridian."
    if any(step.kind == "wait" and step.tracking is False for step in steps):
        yield "Where the list waits with tracking off, whatever runs it must stop tracking too."
    if any(visit.arrival == "flip" for visit in visits):
        yield (
            "The mount flips by itself: the list tells when, it asks for nothing."
            if mount.flip_by == "mount"
            else "Flips are steps of the list: whatever runs it must make each one at its time."
        )
    anew = [str(visit.visit) for visit in visits if visit.guide_star_anew]
    if anew:
        which = f"visit {anew[0]}" if len(anew) == 1 else f"visits {listing(anew, 'and')}"
        yield (
            f"In {which} the field is turned by 180° from the visit before to the same target: "
            "the guide star of an off-axis guider must be chosen anew."
        )


def _of_the_list(shots: ShotList | None) -> Iterable[str]:
    if shots is not None and shots.continues is not None:
        yield "This list goes on with a night: stop the older list before it starts."
