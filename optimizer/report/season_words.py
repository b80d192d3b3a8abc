"""How a season is put into words: evenings, hours, odds, what is proven and what is only expected."""

from __future__ import annotations

import datetime as dt
import math

from optimizer.models.season import Project, SeasonFile, SeasonNight, SeasonPolicy, SeasonProof
from optimizer.report.words import AT_ZENITH, count, name, percent, run_words

MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
ENDED = {
    "gap": "as near as was asked",
    "rounds": "all rounds were done",
    "time": "the time was up",
    "settled": "no round found anything better any more",
    "interrupted": "Ctrl-C ended it",
}
NO_DATE = "-"


def day(evening: str, *, year: bool = False) -> str:
    """The date of an evening as people write it: `14 Dec`, or `14 Dec 2026`."""
    date = dt.date.fromisoformat(evening)
    return f"{date.day} {MONTHS[date.month - 1]}" + (f" {date.year}" if year else "")


def day_or_dash(evening: str | None) -> str:
    """The date of an evening, or a dash where there is none."""
    return NO_DATE if evening is None else day(evening)


def month(text: str) -> str:
    """A month that is written like `2026-12`, as `Dec 2026`."""
    year, _, number = text.partition("-")
    return f"{MONTHS[int(number) - 1]} {year}"


def hours(seconds: float) -> str:
    """Hours with no more digits than they deserve: `0.4 h`, `7.2 h`, `64 h`."""
    value = seconds / 3600
    return f"{value:.1f} h" if abs(value) < 9.95 else f"{value:.0f} h"


def span(first: str, last: str) -> str:
    """From which evening to which a season goes."""
    if first == last:
        return f"the evening of {day(first, year=True)}"
    other_year = first[:4] != last[:4]
    return f"the evenings from {day(first, year=other_year)} to {day(last, year=True)}"


def gap_words(gap: float) -> str:
    """How far the plans may be from the best possible, rounded up to tenths of a per cent."""
    if gap > 1:
        return "that says little of how good they are"
    return f"within {math.ceil(1000 * gap - 1e-9) / 10:.1f} % of the best possible"


def by_words(proof: SeasonProof) -> str:
    """What is counted."""
    sets = ", filter sets balanced" if proof.balance else ""
    if proof.by == "depth":
        return f"depth (a second {AT_ZENITH} is one){sets}"
    return f"hours of open shutter{sets}"


def proven_words(proof: SeasonProof) -> str:
    """What is proven of the plans of all nights together."""
    value, bound = proof.value, proof.bound
    if bound <= 0:
        return "nothing can be gained on any of these nights"
    if value <= 0:
        return f"no plan was found; none is worth more than {hours(bound)}"
    return (
        f"the plans of all nights are worth {hours(value)}, and none can be worth more than {hours(bound)}: "
        f"{gap_words(proof.gap)}; {ENDED[proof.ended]}"
    )


def law_words(proof: SeasonProof) -> str:
    """What the proof holds for: what is counted, and that odds weigh it."""
    return (
        f"This counts {by_words(proof)}, times the weights; each night by its odds of clear sky, later "
        "nights as much as sooner ones. It is no forecast."
    )


def expected_words(policy: SeasonPolicy) -> str:
    """What the sampled weathers say."""
    low, high = (percent(share) for share in (policy.share_low, policy.share_high))
    return (
        f"in {count(policy.seasons, 'simulated season')} {hours(policy.mean_value_s)} on average: "
        f"{percent(policy.share_of_bound)} of the most that could be had if the weather were known "
        f"beforehand ({low} to {high} in 80 % of them)"
    )


def plan_words(night: SeasonNight) -> str:
    """The subs of a night's plan by target: `Triangulum L 40×120s, R 12×180s; Heart Ha 20×300s`."""
    by_target: dict[str, list[str]] = {visit.target: [] for visit in night.visits}
    for goal in night.plan:
        subs = run_words(goal.filter, goal.frames, goal.exposure_s)
        by_target.setdefault(goal.target, []).append(subs)
    return "; ".join(f"{name(target)} {', '.join(subs)}" for target, subs in by_target.items())


def sky_words(night: SeasonNight) -> str:
    """What a night's sky offers: `45 % likely clear, 9.8 h dark, 4.1 h of it moonless, Moon 33 % lit`."""
    all_of_it = night.moonless_dark_s >= night.dark_s - 60
    moonless = "all of it moonless" if all_of_it else f"{hours(night.moonless_dark_s)} of it moonless"
    return (
        f"{percent(night.odds)} likely clear, {hours(night.dark_s)} dark, {moonless}, "
        f"Moon {percent(night.moon_illuminated)} lit"
    )


def is_finished(project: Project) -> bool:
    """Whether all that a project wants is in hand."""
    return all(goal.in_hand >= goal.wanted for goal in project.goals)


def share_words(share: float | None) -> str:
    """In how many of the simulated seasons a project is finished; never called certain or impossible."""
    if share is None:
        return NO_DATE
    return percent(share)


def last_evening(season: SeasonFile) -> str:
    """The last evening of a season."""
    return max(night.evening for night in season.nights)
