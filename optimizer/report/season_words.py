"""How a season is put into words: evenings, hours, odds, what is proven and what is only expected."""

from __future__ import annotations

import datetime as dt
import math

from optimizer.models.season import SeasonNight, SeasonPolicy, SeasonProof
from optimizer.report.season_page.dates import short_date
from optimizer.report.words import AT_ZENITH, count, name, percent, run_words

ENDED = {
    "gap": "as near as was asked",
    "rounds": "all rounds were done",
    "time": "the time was up",
    "settled": "no round found anything better any more",
    "interrupted": "Ctrl-C ended it",
}
POLICIES = {
    "scarce hours": "scarce hours first, as plan does by itself",
    "own weights": "its own weights, as plan does by itself",
    "season values": "the values of the season",
}
NO_DATE = "-"
TELLING = 0.2  # a gap beyond which the hours say more than a percentage


def day(evening: str | None, *, year: bool = False) -> str:
    """The date of an evening as people write it: `14 Dec`, or `14 Dec 2026`; a dash where there is none."""
    if evening is None:
        return NO_DATE
    date = dt.date.fromisoformat(evening)
    return f"{short_date(date)} {date.year}" if year else short_date(date)


def month(text: str) -> str:
    """A month that is written like `2026-12`, as `Dec 2026`."""
    return short_date(dt.date.fromisoformat(f"{text}-01")).removeprefix("1 ") + f" {text[:4]}"


def hours(seconds: float) -> str:
    """Hours with no more digits than they deserve: `0.4 h`, `7.2 h`, `64 h`."""
    value = seconds / 3600
    return f"{value:.1f} h" if abs(value) < 9.95 else f"{value:.0f} h"


def hours_told(seconds: float, *, up: bool) -> str:
    """Hours of a value, told as no more than it is, or with `up` of a bound, told as no less."""
    parts = 10 if seconds < 36_000 else 1
    value = seconds / 3600 * parts
    return hours(3600 / parts * (math.ceil(value - 1e-9) if up else math.floor(value + 1e-9)))


def share_words(share: float) -> str:
    """A share of simulated seasons, rounded down, so that `90 %` stands only where it is reached."""
    if 0 < share < 0.01:
        return "< 1 %"
    return percent(math.floor(100 * share + 1e-9) / 100)


def span(first: str, last: str) -> str:
    """From which evening to which a season goes."""
    if first == last:
        return f"the evening of {day(first, year=True)}"
    return f"the evenings from {day(first, year=first[:4] != last[:4])} to {day(last, year=True)}"


def gap_words(gap: float) -> str:
    """How far the plans may be from the best possible, rounded up to tenths of a per cent; empty if far."""
    return f"within {math.ceil(1000 * gap - 1e-9) / 10:.1f} % of the best possible" if gap <= TELLING else ""


def proven_words(proof: SeasonProof) -> str:
    """What is proven of the plans of all nights together."""
    value, bound = proof.value, proof.bound
    if bound <= 0:
        return "nothing can be gained on any of these nights"
    has, most = hours_told(value, up=False), hours_told(bound, up=True)
    if value <= 0:
        return f"no plan was found; none can bring more than {most}"
    near = gap_words(proof.gap)
    return (
        f"the plans of all nights bring {has}, and none can bring more than {most}"
        f"{near and f': {near}'}; {ENDED[proof.ended]}"
    )


def law_words(proof: SeasonProof) -> str:
    """What the proof holds for: what is counted, and that odds weigh it."""
    depth = f"depth (a second {AT_ZENITH} is one)"
    counted = depth if proof.by == "depth" else "hours of open shutter"
    sets = ", filter sets balanced" if proof.balance else ""
    return (
        f"This counts {counted}{sets}, times the weights; each night by its odds of clear sky, later nights "
        "as much as sooner ones. It is no forecast."
    )


def expected_words(policy: SeasonPolicy, rigs: int) -> str:
    """What the sampled weathers say of so many rigs, which are planned one after the other on each night."""
    after = ", each rig after those before it in the season took their subs" if rigs > 1 else ""
    low, high = (percent(share) for share in (policy.share_low, policy.share_high))
    return (
        f"{count(policy.seasons, 'simulated season')}, on a coarse grid: {hours(policy.mean_value_s)} on "
        f"average, {percent(policy.share_of_bound)} of the most that could be had if the weather were known "
        f"beforehand ({low} to {high} in 80 % of them); each clear night planned by "
        f"{POLICIES[policy.name]}{after}"
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
