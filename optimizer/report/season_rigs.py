"""A season told by rig: what each does, which is the bottleneck, who shoots what, what a rig more changes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from optimizer.models.season import SeasonFile, SeasonNight, SeasonStep
from optimizer.report.season_page.facts import Rig, Row, open_shutter_s, rigs_of
from optimizer.report.season_words import day, hours, hours_told
from optimizer.report.words import count, name, tied
from optimizer.words import listing

MOST_RIGS = 12  # rows that a tired reader goes through; of more, those of the greatest worth are shown
MOST_NAMED = 4  # rigs that one sentence names
LEAST_MORE = 0.05  # of a project: below this one decimal may show a difference that is none
STEPS = {"rig_more": "a rig more", "rig_less": "a rig less", "week_less": "a week less"}
SHOWN_MORE = 0.1  # of a project: from this on one decimal shows it


@dataclass(frozen=True)
class RigRow:
    """What a rig does in the season, and what one more clear night of it would give."""

    name: str
    site: str
    nights: str
    planned: str
    dark: str
    projects: str
    worth: str
    worth_s: float


@dataclass(frozen=True)
class StepOfSeason:
    """A step and what it changes, as planned and with it: projects finished, hours brought."""

    step: str
    finished: str
    brought: str


@dataclass(frozen=True)
class RigShare:
    """What the plans of one rig have of a project: seconds by odds, and its evenings with their columns."""

    rig: Rig
    seconds: float
    columns: tuple[int, ...]
    evenings: tuple[str, ...]


def nights_of(season: SeasonFile) -> list[list[SeasonNight]]:
    """The nights of each rig, in the order of the rigs and of their evenings."""
    if len(season.rigs) == 1:
        return [list(season.nights)]
    found: dict[str, list[SeasonNight]] = {rig.name: [] for rig in season.rigs}
    for night in season.nights:
        found[night.rig].append(night)
    return list(found.values())


def sites_words(season: SeasonFile, most: int = 32) -> str:
    """Where the rigs of a season stand: `Heron Flat`, `2 rigs at Heron Flat`, `3 rigs at 2 sites`."""
    sites = list(dict.fromkeys(rig.request.site.name for rig in season.rigs))
    where = f"at {name(sites[0], most)}" if len(sites) == 1 else f"at {len(sites)} sites"
    return where if len(season.rigs) == 1 else f"with {count(len(season.rigs), 'rig')} {where}"


def clock_words(season: SeasonFile) -> str:
    """By which clock times are told: one zone, or of each rig its own."""
    zones = list(dict.fromkeys(rig.request.site.time_zone for rig in season.rigs))
    return zones[0] if len(zones) == 1 else "of each rig those of its site"


def rig_rows(season: SeasonFile) -> list[RigRow]:
    """The rigs, that with the greatest worth of one more clear night first."""
    rows = [_row(rig, own) for rig, own in zip(rigs_of(season), nights_of(season), strict=True)]
    return sorted(rows, key=lambda row: -row.worth_s)


def _row(rig: Rig, nights: Sequence[SeasonNight]) -> RigRow:
    used = [night for night in nights if night.plan]
    worth_s = sum(night.worth_s for night in nights) / len(nights) if nights else 0.0
    return RigRow(
        name=name(rig.name),
        site=name(rig.request.site.name),
        nights=f"{len(used)} of {len(nights)}",
        planned=hours(sum(night.odds * open_shutter_s(night.plan) for night in used)),
        dark=hours(sum(night.odds * night.dark_s for night in nights)),
        projects=str(len({goal.target for night in used for goal in night.plan})),
        worth=hours_told(worth_s, up=True),
        worth_s=worth_s,
    )


def bottleneck_words(season: SeasonFile) -> str:
    """Which rig is the bottleneck: by the worth of one more clear night, and by what one more rig gives."""
    rows = rig_rows(season)
    top = [row.name for row in rows if row.worth == rows[0].worth]
    by = f"raises what all nights can be worth by {rows[0].worth} at most, on the mean of its nights"
    rest = [f"{row.name} {row.worth}" for row in rows if row.worth != rows[0].worth]
    if rows[0].worth_s <= 0:
        words = "none is a bottleneck: no further clear night raises what all nights can be worth"
    elif not rest:
        words = f"none is more of a bottleneck than the others: one more clear night of any {by}"
    else:
        are = "the bottleneck is" if len(top) == 1 else "the bottlenecks are"
        whose = "it" if len(top) == 1 else "one of them"
        words = (
            f"{are} {listing(top, 'and', most=MOST_NAMED)}: one more clear night of {whose} {by} "
            f"({listing(rest, 'and', most=MOST_NAMED)})"
        )
    return f"{words}{_best_rig(season)}"


def _best_rig(season: SeasonFile) -> str:
    """Like which rig one more would help most; empty where that was not simulated."""
    more = [step for step in season.steps if step.change == "rig_more"]
    if not more:
        return ""
    tried = f" of the {len(more)} tried" if len(more) < len(season.rigs) else ""
    ahead = [step for step in more if _shows(step)]
    if ahead:
        best = max(ahead, key=_help)
        return (
            f". Of one more rig, one like {name(best.rig or '')} helps most{tried}: {best.finished:.1f} of "
            f"{count(len(season.projects), 'project')} finished on average, without it "
            f"{best.finished_without:.1f}"
        )
    best = max(more, key=lambda step: step.value_s - step.value_without_s)
    with_it, without = hours(best.value_s), hours(best.value_without_s)
    if best.value_s > best.value_without_s and with_it != without:
        return (
            f". No further rig{tried} finishes {SHOWN_MORE:g} projects more on average; one like "
            f"{name(best.rig or '')} brings most: {with_it}, without it {without}"
        )
    return f". In the simulated seasons no further rig{tried} brings noticeably more"


def _shows(step: SeasonStep) -> bool:
    """Whether a step finishes so much more that one decimal shows it; else it is less than `SHOWN_MORE`."""
    more = step.finished - step.finished_without >= LEAST_MORE
    return more and f"{step.finished:.1f}" != f"{step.finished_without:.1f}"


def _help(step: SeasonStep) -> tuple[float, float]:
    """What a step adds: projects, as far as one decimal shows them, then weighted seconds."""
    return round(step.finished - step.finished_without, 1), step.value_s - step.value_without_s


def season_steps(season: SeasonFile) -> list[StepOfSeason]:
    """What one step would change for the whole season: rigs more, rigs less, a week less, in this order.

    Of many rigs those are told that add or take most.
    """
    more = sorted((s for s in season.steps if s.change == "rig_more"), key=_help, reverse=True)
    less = sorted((s for s in season.steps if s.change == "rig_less"), key=_help)
    week = [s for s in season.steps if s.change == "week_less"]
    several = len(season.rigs) > 1
    return [_step(step, several=several) for step in (*more[:MOST_RIGS], *less[:MOST_RIGS], *week)]


def _step(step: SeasonStep, *, several: bool) -> StepOfSeason:
    like = f" like {name(step.rig or '')}" if several else ""
    words = {
        "rig_more": f"one more rig{like or ' like this'}",
        "rig_less": f"without {name(step.rig or '')}",
        "week_less": "without the last 7 nights",
    }[step.change]
    return StepOfSeason(
        words,
        f"from {step.finished_without:.1f} to {step.finished:.1f}",
        f"from {hours(step.value_without_s)} to {hours(step.value_s)}",
    )


def steps_head(season: SeasonFile) -> str:
    """Which steps were tried for the whole season: `A rig more, a week less`."""
    tried = {step.change for step in season.steps}
    words = ", ".join(said for change, said in STEPS.items() if change in tried)
    return words[:1].upper() + words[1:]


def steps_note(season: SeasonFile) -> str:
    """What the numbers of the steps are of."""
    most = season.policy.seasons if season.policy else 0
    numbers = sorted({step.seasons for step in season.steps})
    seasons = listing((f"the first {each}" if each < most else str(each) for each in numbers), "and")
    counted = "depth" if season.proof.by == "depth" else "open shutter"
    return (
        f"from: as it is, to: with that step, both on the mean of {seasons} simulated seasons of the same "
        f"weather; finished: of {count(len(season.projects), 'project')}, those in hand included; brought: "
        f"hours of {counted}, times the weights"
    )


def shares_of(season: SeasonFile) -> dict[str, list[RigShare]]:
    """What each rig's plans have of each target, the rig with the most hours by odds first."""
    columns = {
        evening: n for n, evening in enumerate(dict.fromkeys(night.evening for night in season.nights))
    }
    found: dict[str, list[RigShare]] = {project.target: [] for project in season.projects}
    for rig, nights in zip(rigs_of(season), nights_of(season), strict=True):
        seconds, evenings = dict[str, float](), dict[str, dict[str, None]]()
        for night in nights:
            for goal in night.plan:
                gained = night.odds * goal.frames * goal.exposure_s
                seconds[goal.target] = seconds.get(goal.target, 0.0) + gained
                evenings.setdefault(goal.target, {})[night.evening] = None
        for target, own in evenings.items():
            numbers = tuple(columns[evening] for evening in own)
            found[target].append(RigShare(rig, seconds[target], numbers, tuple(own)))
    return {target: sorted(own, key=lambda share: -share.seconds) for target, own in found.items()}


def who_words(shares: Sequence[RigShare]) -> str:
    """Who shoots a project, and when: `north 7.2 h on 9 nights, 14 Nov to 3 Dec; wide 2.0 h on 20 Nov`."""
    words = [_share(share) for share in shares[:MOST_NAMED]]
    if len(shares) > MOST_NAMED:
        rest_s = sum(share.seconds for share in shares[MOST_NAMED:])
        words.append(f"{count(len(shares) - MOST_NAMED, 'more rig')} {hours(rest_s)}")
    return "; ".join(words) or "nobody, in any of these plans"


def _share(share: RigShare) -> str:
    first, last = day(share.evenings[0]), day(share.evenings[-1])
    number = len(share.evenings)
    when = f"on {first}" if number == 1 else f"on {number} nights, {first} to {last}"
    return f"{tied(f'{name(share.rig.name)} {hours(share.seconds)}')} {when}"


def nights_words(row: Row) -> str:
    """How many nights can serve a project: those of all its rigs together where it has several."""
    nights = count(row.project.nights, "night")
    return f"{nights} of {count(len(row.project.rigs), 'rig')}" if len(row.project.rigs) > 1 else nights


def most_of_month(season: SeasonFile, month: str) -> str:
    """With which rig one more clear night of a month gives most at most; empty for a single rig."""
    if len(season.rigs) == 1:
        return ""
    means = []
    for rig, nights in zip(rigs_of(season), nights_of(season), strict=True):
        worths = [night.worth_s for night in nights if night.evening.startswith(month)]
        means.append((sum(worths) / len(worths) if worths else 0.0, rig))
    worth_s, rig = max(means, key=lambda each: (each[0], -each[1].number))
    return f"{name(rig.name)} {hours_told(worth_s, up=True)}" if worth_s > 0 else "-"
