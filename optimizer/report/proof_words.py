"""What is proven of a plan, and one plain sentence with its remedy where it may be far from the best."""

from __future__ import annotations

from optimizer.models.shots import ShotList
from optimizer.report.set_words import counts_sets
from optimizer.report.words import at_most_percent, clock, count, duration, name

FAR = 1.0  # a gap beyond which a percentage says nothing to anybody
# Gaps beyond which a plan is called short: whatever ended the search; its limit. With filter sets the bound
# mixes plans, and more time hardly brings the two nearer: there the first one holds for the limit too.
WEAK, NEAR = 0.05, 0.01
LONGER, LONGEST_S = 4, 86_400  # the limit that is advised; the longest there may be
BY_LIMIT = 0.4  # of the limit, from which on it was that which ended the search: half is left for it at least


def proof_words(shots: ShotList) -> str:
    """How near to the best possible the plan is, and how long that took to show."""
    proof = shots.proof
    if proof.status == "optimal":
        return f"the best plan possible, proven in {proof.seconds:.1f} s"
    early = ", search stopped early" if proof.status == "stopped" else ""
    if proof.gap > FAR:
        most, has = duration(proof.bound), duration(proof.objective)
        return f"nothing near: no plan has more than {most}{_counted(shots)}, this one has {has}{early}"
    bound = f"within {at_most_percent(proof.gap)} of the best possible"
    if proof.ended == "settled":
        return f"{bound}; stopped after {proof.seconds:.1f} s: the search found nothing better any more"
    return f"{bound}, shown in {proof.seconds:.1f} s{early}"


def shortfall(shots: ShotList) -> str | None:
    """One sentence where the plan idles although a goal would fit, or may be far from the best; or None."""
    proof, aim = shots.proof, shots.request.aim
    limited = proof.status == "stopped" or (proof.gap > aim.gap and proof.ended != "settled")
    if proof.status != "stopped" and counts_sets(shots.request):
        limited = False
    weak = proof.gap > (NEAR if limited else WEAK)
    if proof.status == "optimal" or not (weak or proof.idle):
        return None
    by_limit = proof.gap > aim.gap and proof.seconds >= BY_LIMIT * aim.time_limit_s
    if proof.ended is not None:
        by_limit = proof.ended == "time"
    longer = f"--time-limit {min(LONGEST_S, LONGER * aim.time_limit_s):g}"
    if proof.status == "stopped":
        cause, remedy = "Ctrl-C ended the search", "let it run on"
    elif by_limit:
        cause, remedy = f"the time limit of {aim.time_limit_s:g} s ended the search", f"try {longer}"
    elif proof.gap <= aim.gap:
        cause, remedy = f"the search ended as near as aim.gap = {aim.gap:g} asks", "give a smaller aim.gap"
    elif proof.ended == "settled":
        cause, remedy = "the search found nothing better any more", "ask for fewer targets at once"
    else:
        cause, remedy = "the search found nothing better", f"ask for fewer targets at once, or try {longer}"
    more = f" with up to {at_most_percent(proof.gap)} more possible" if weak and proof.gap <= FAR else ""
    words = f"{cause}{more}"
    if proof.idle:
        words = f"{_idle(shots)}; {words}"
    return f"{words}: {remedy}"


def _idle(shots: ShotList) -> str:
    """The longest idle span into which something wanted would fit, in words."""
    idle = max(shots.proof.idle, key=lambda each: each.end_utc - each.start_utc)
    zone = shots.night.time_zone
    fits = f"{count(idle.frames, 'sub')} of {name(idle.filter, 12)} {idle.exposure_s:g} s"
    span = f"{clock(idle.start_utc, zone)} to {clock(idle.end_utc, zone)}"
    return f"{span} stays idle although {fits} of {name(idle.target)} would fit"


def _counted(shots: ShotList) -> str:
    """What the hours count, in words: by weights, by depth or with filter sets they are not a clock's."""
    request = shots.request
    weighted = any(target.weight != 1 for target in request.targets) or any(
        value.factor != 1 for value in shots.values
    )
    if shots.season is not None and shots.season.policy == "season values":
        weighted = True
    kind = "depth" if request.aim.value == "depth" else "open shutter"
    kind = f"expected {kind}" if request.night.clear_odds else kind
    kind = f"weighted {kind}" if weighted else kind
    return f" of value ({kind} and the progress of filter sets)" if counts_sets(request) else f" of {kind}"
