"""The public functions: each makes one thing and returns it as typed data; the commands call them too.

What a function needs is imported when it is called: to read a file, no solver is loaded.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Literal, TypeAlias, get_args, overload

if TYPE_CHECKING:
    from optimizer.models.request import Request
    from optimizer.models.shots import AuditReport, ShotList, Step
    from optimizer.reading.evening import Tonight
    from optimizer.reading.load import LoadedRequest
    from optimizer.report.flip_facts import FlipReport
    from optimizer.report.learn_facts import LearnReport
    from optimizer.report.picture.shown import ShownPlan
    from optimizer.report.replan_facts import Replanned
    from optimizer.report.sides_facts import SidesReport
    from optimizer.report.tally_facts import TallyReport
    from optimizer.report.window_facts import WindowsReport
    from optimizer.season.progress import SeasonProgress
    from optimizer.seasons import Season

    Asked: TypeAlias = Request | LoadedRequest

Form: TypeAlias = Literal["html", "svg", "png", "pdf"]
Theme: TypeAlias = Literal["light", "dark", "red"]


def load(
    path: str | Path,
    *,
    evening: dt.date | str | None = None,
    include_outside: bool = False,
    targets_needed: bool = True,
) -> LoadedRequest:
    """Read a request from TOML or JSON, with the files that it includes.

    Args:
        path: The file; its ending says which of the two it is.
        evening: The civil date at the site on which the night begins, in place of the file's: a date, text
            like "2026-11-14", or "tonight" for the night that runs or comes next, counted from noon to noon
            in the site's time zone.
        include_outside: Let the request include files from outside its own folder.
        targets_needed: Without targets, only `flip` can be asked of a request; False allows that.

    Returns:
        The request as `.request`, with what its tally counts added to `done` of the goals; `.warnings` are
        sentences about what is worth a second look, `.resolved` says what "tonight" and each name from the
        catalogue stand for. Every function here takes it as it is.

    Raises:
        InputError: The files or the evening cannot be used; `problems` holds every problem of all files, with
            place and remedy.
        TypeError: The evening is neither a date nor text.

    Example:
        >>> load("plans/first-night/request.toml").request.targets[0].name
        'Pelican at the shore'
    """
    from optimizer.reading.load import load_request

    return load_request(
        Path(path),
        allow_outside=include_outside,
        evening=_evening(evening),
        evening_from="load()",
        targets_needed=targets_needed,
    )


@overload
def load_shots(path: str | Path, *, steps_only: Literal[False] = False) -> ShotList: ...
@overload
def load_shots(path: str | Path, *, steps_only: Literal[True]) -> tuple[Step, ...]: ...
def load_shots(path: str | Path, *, steps_only: bool = False) -> ShotList | tuple[Step, ...]:
    """Read a shot list from its JSON file, or the steps alone from JSON or CSV.

    Args:
        path: The file, ours or typed by hand; its ending says which of the two it is.
        steps_only: Return the steps alone, which is all that a CSV file holds.

    Returns:
        The list with its request, totals, proof and audit as they stand in the file; or the steps in their
        order. Its form is checked, its sense is not: that is what `audit` does.

    Raises:
        InputError: The file cannot be used, or is CSV and the whole list is wanted.

    Example:
        >>> shots = load_shots("plans/first-night/stored/request.2026-10-10.shots.json")
        >>> csv = "plans/first-night/stored/request.2026-10-10.shots.csv"
        >>> shots.steps == load_shots(csv, steps_only=True)
        True
    """
    from optimizer.export.shot_files import read_shots
    from optimizer.reading.files import refuse

    read = read_shots(Path(path))
    if steps_only:
        return read.steps
    if read.shots is None:
        what = "a CSV list holds the steps alone, not the whole list"
        raise refuse(str(path), what, "name the JSON list, or read the steps with steps_only=True")
    return read.shots


def plan(
    request: Asked,
    *,
    time_limit_s: float | None = None,
    tell: Callable[[float, float, float], None] | None = None,
) -> ShotList:
    """Find the night's best shot list and audit it by the second, independent route.

    Ctrl-C ends the search and keeps the best plan found so far; `proof.status` is then "stopped". For that a
    SIGINT handler of the caller is not called while the main thread searches; it is set back afterwards.

    Args:
        request: The request, or what `load` returned.
        time_limit_s: Seconds for sky, windows and search, in place of `aim.time_limit_s`; above 0, at most
            86400.
        tell: Called at each better plan or bound with the seconds of search, the value and the bound
            (weighted seconds), perhaps from another thread.

    Returns:
        The list with `steps`, `totals`, `proof`, `unplanned` and `audit`. It has no steps where nothing was
        scheduled, and `unplanned` says why for each goal. `audit.violations` is empty, unless the software
        has a defect; `save` refuses the list then.

    Raises:
        InputError: The time limit is out of range, or the request has no targets.
        KeyboardInterrupt: Ctrl-C came before there was a plan.
        TypeError: Something else than a request was given, or a time limit that is no number.
        optimizer.errors.SolverFailureError: The solver refuses the model, a defect of the software.

    Example:
        >>> plan(load("plans/first-night/request.toml"), time_limit_s=5).proof.gap < 0.01
        True
    """
    from optimizer.night import Night

    shots = Night(_within(request, time_limit_s, "plan()")).plan(tell)
    if shots.proof.status == "stopped" and not shots.steps:
        raise KeyboardInterrupt
    return shots


@overload
def audit(shots: ShotList, request: Asked | None = None) -> AuditReport: ...
@overload
def audit(shots: ShotList | Sequence[Step], request: Asked) -> AuditReport: ...
def audit(shots: ShotList | Sequence[Step], request: Asked | None = None) -> AuditReport:
    """Check a shot list against every rule, by other code and another route through the sky.

    Args:
        shots: A list, or bare steps such as `load_shots(path, steps_only=True)` returns.
        request: The request to check the steps against. Without it a list is checked against its own request,
            and its totals, proof and facts of the night are checked as well.

    Returns:
        The rules that were checked, every violation with its step, rule, amount and unit, and the least
        margin to contact in minutes (None where there is none to tell). `quality` has what breaks no rule but
        falls short of the request: steps with less slack than `aim.slack_s`.

    Raises:
        TypeError: Bare steps were given without a request, or something else than a list or steps, such as a
            path.

    Example:
        >>> audit(load_shots("plans/first-night/stored/request.2026-10-10.shots.json")).violations
        ()
    """
    from optimizer.audit import audit_shot_list, audit_steps
    from optimizer.reading.given import list_given, request_given, steps_given

    if request is None:
        return audit_shot_list(list_given(shots, "audit()", takes_steps=True))
    continues = getattr(shots, "continues", None)  # bare steps begin the night
    return audit_steps(request_given(request, "audit()"), steps_given(shots, "audit()"), continues)


def windows(request: Asked) -> WindowsReport:
    """Say when the shutter may be open tonight, and what opens and closes each window.

    Args:
        request: The request, or what `load` returned.

    Returns:
        What `darkfill windows --json` prints: for each target its transits (altitudes in degrees), the time
        above its floor, its best hour, and for each filter and pier side the windows in UTC with their
        causes.

    Raises:
        InputError: The request has no targets.
        TypeError: Something else than a request was given.

    Example:
        >>> windows(load("plans/first-night/request.toml")).targets[0].filters[0].windows[0].opened_by
        'Sun below −12°'
    """
    from optimizer.reading.given import request_given
    from optimizer.report.window_facts import windows_report

    return windows_report(request_given(request, "windows()", targets_needed=True))


def flip(request: Asked, *, exposure_s: float | None = None) -> FlipReport:
    """Say how the mount's numbers around the meridian fit together, and when each target flips tonight.

    Args:
        request: The request, or what `load` returned; it needs no targets (`load(path,
            targets_needed=False)`).
        exposure_s: The exposure to judge, in seconds above 0, at most 86400; else the longest still wanted.

    Returns:
        What `darkfill flip --json` prints: minutes past the meridian, seconds of exposure, `fits`, and
        `tonight` with the instants of each transit and flip in UTC.

    Raises:
        InputError: The exposure is out of range.
        TypeError: Something else than a request was given, or an exposure that is no number.

    Example:
        >>> flip(load("plans/first-night/request.toml"), exposure_s=600).fits
        True
    """
    from optimizer.reading.given import request_given, seconds_given
    from optimizer.report.flip_facts import flip_report

    if exposure_s is not None:
        exposure_s = seconds_given(exposure_s, "flip()", "exposure_s")
    return flip_report(request_given(request, "flip()"), exposure_s)


def sides(
    request: Asked, *, time_limit_s: float | None = None, tell: Callable[[str], None] | None = None
) -> SidesReport:
    """Compare before, after and across the transit for each target, alone and in the whole night.

    Args:
        request: The request, or what `load` returned.
        time_limit_s: Seconds for the whole comparison, in place of `aim.time_limit_s`; above 0, at most
            86400.
        tell: Called with the name of each target as its comparison begins, before them with "the whole
            night".

    Returns:
        What `darkfill sides --json` prints: for each target and choice the seconds of open shutter, the value
        in weighted seconds and how sure it is; `best`, and why in a sentence.

    Raises:
        InputError: The time limit is out of range, or the request has no targets.
        KeyboardInterrupt: Ctrl-C came before the comparison was complete.
        TypeError: Something else than a request was given, or a time limit that is no number.
        optimizer.errors.SolverFailureError: The solver refuses a model, a defect of the software.

    Example:
        >>> sides(load("plans/first-night/request.toml"), time_limit_s=4).targets[0].target
        'Pelican at the shore'
    """
    from optimizer.report.sides_facts import sides_report
    from optimizer.sides.compare import compare_sides

    return sides_report(compare_sides(_within(request, time_limit_s, "sides()"), tell))


def season(
    request: Asked | Sequence[Asked],
    *,
    gap: float = 0.01,
    rounds: int | None = None,
    time_limit_s: float | None = None,
    engine: str = "processes",
    workers: int = 0,
    cache: str | Path | None = None,
    tell: Callable[[SeasonProgress], None] | None = None,
    say: Callable[[str], None] | None = None,
) -> Season:
    """Plan many nights together under odds of clear sky, as `darkfill season` does, and audit each plan.

    Several requests are several rigs that share their projects: targets of the same name are one project, and
    goals of the same filter and exposure are one goal. The nights and their odds are those of the request's
    `[season]`, of several requests the first's, where each site may have odds of its own. Ends once the plans
    are proven within `gap` of the best, once rounds bring nothing any more, or as `rounds` and `time_limit_s`
    say; Ctrl-C ends it and keeps the best season found so far.

    Args:
        request: The request, or what `load` returned; or several of them, one a rig. Each rig has a name of
            its own: `rig` of the request, or the name of the file that it was loaded from.
        gap: Stop once proven this near the best (0.01 is one percent); a share from 0 to 1.
        rounds: Stop after so many rounds of replanning; None: no such limit.
        time_limit_s: Stop after so many seconds; above 0, at most 86400; None: no such limit.
        engine: Who works on the nights: `processes` or `threads` of this machine, `dask`, a cluster of Dask
            on this machine, or `tcp://HOST:PORT`, the address of a scheduler of Dask that runs (both need the
            extra `cluster`). Stopped by gap or rounds, the season is the same.
        workers: How many of them; 0: one for each core, or all that a running cluster has.
        cache: Folder in which what is known of nights is kept; None: DARKFILL_CACHE of the environment, or
            else in the user's cache folder.
        tell: Called as the work goes on with how it stands.
        say: Called with a sentence for each thing that is amiss and does not change the season, as a cache
            folder that cannot be used; None: these are Python's warnings.

    Returns:
        The season, which `save` of it writes, and `tonight` of it plans a night by.

    Raises:
        InputError: An argument is out of its range, a request has no targets, the last of the nights is later
            than 2100, or requests do not agree in what they share.
        KeyboardInterrupt: Ctrl-C came before there was a plan.
        TypeError: Something else than requests was given, or no number where one is wanted.
        ValueError: There is no such engine.
        optimizer.errors.ClusterError: The season cannot begin on a cluster: Dask is not installed, no
            scheduler or worker answers, or a machine has other software than this one.
        optimizer.errors.WorkerLostError: A working process was killed, or ran out of memory, twice at the
            same task (on a cluster five times), or the cluster has gone.

    Example:
        >>> from optimizer.models.season_asked import SeasonAsked
        >>> request = load("plans/first-night/request.toml").request
        >>> asked = request.model_copy(update={"season": SeasonAsked(nights=2)})  # or [season] in the file
        >>> found = season(asked, rounds=1, engine="threads")
        >>> found.proof.bound >= found.proof.value > 0
        True
    """
    import warnings

    from optimizer.reading.given import count_given, seconds_given, share_given
    from optimizer.season.agreeing import rigs_given
    from optimizer.season.engines.kinds import NAMES, is_engine
    from optimizer.season.season import season_of
    from optimizer.seasons import Season

    if not is_engine(engine):
        raise ValueError(f"there is no engine {engine!r}; give {NAMES}")
    if say is None:

        def say(sentence: str) -> None:
            warnings.warn(sentence, stacklevel=3)

    agreed = rigs_given(request, "season()")
    for line in agreed.lines:
        say(line)
    return Season(
        season_of(
            agreed.rigs,
            engine=engine,
            workers=count_given(workers, "season()", "workers"),
            cache=None if cache is None else Path(cache),
            gap=share_given(gap, "season()", "gap"),
            rounds=None if rounds is None else count_given(rounds, "season()", "rounds"),
            time_limit_s=None
            if time_limit_s is None
            else seconds_given(time_limit_s, "season()", "time_limit_s"),
            tell=tell,
            say=say,
        )
    )


def replan(
    shots: ShotList | str | Path,
    *,
    now: dt.datetime | str | None = None,
    done: Sequence[int] | str | Path | None = None,
    images: str | Path | None = None,
    parked: bool = False,
    pier_side: Literal["west", "east"] | None = None,
    at: str | None = None,
    filter: str | None = None,
    focused: dt.datetime | str | None = None,
    drop_current: bool = False,
    until: dt.datetime | str | None = None,
    blocks: Sequence[tuple[dt.datetime | str, dt.datetime | str | None]] = (),
    without: Sequence[str] = (),
    only: Sequence[str] = (),
    time_limit_s: float = 2.0,
    tell: Callable[[float, float, float], None] | None = None,
) -> Replanned:
    """Plan the rest of a night anew, from how mount and camera stand, and audit it.

    Times are instants with a time zone, or text: local like "01:23" or "2026-11-15T01:23", or UTC with Z.
    What is not told is taken from the list as if all had gone as planned until `now`. The new list is never
    worth less than what is still possible of the older one.

    Args:
        shots: The list that was going on, or its JSON file.
        now: When the new list may take over; None: 10 s from now by the clock.
        done: The numbers of the steps that were done, as numbers, as text with ranges ("1-150,153") or in a
            CSV file with a column `step`; None: all that ended by now. The step that runs is let end only if
            it is among them; on a late night, `now` is when it ends.
        images: A folder: of the subs, only those count as taken that a FITS image in it shows, and no step
            that a list as late as they are has not come to.
        parked: The mount is parked at its home.
        pier_side: Where the tube really stands; goes with `at`, and not with a fork mount.
        at: Name of the target that the mount really tracks.
        filter: Name of the filter that is in the light path.
        focused: When the latest autofocus ended.
        drop_current: Stop the running sub, so that it does not count.
        until: From when on nothing is shot.
        blocks: Spans in which nothing is shot, such as clouds; an end of None or "-" is that of the night.
            Subs that the list took meanwhile do not count.
        without: Names of targets that are left out.
        only: Names of the targets that are kept; empty: all.
        time_limit_s: Seconds for sky, windows and search; above 0, at most 86400.
        tell: Called at each better plan or bound with the seconds of search, the value and the bound
            (weighted seconds), perhaps from another thread.

    Returns:
        The new list as `.shots`, which `save` takes; `.assumed` says where mount and camera are taken to
        be, which a person must check before the list is started, `.first` the one thing to do now,
        `.changes` the seconds of open shutter that each goal had and has. Where nothing more can be
        scheduled the list has no subs.

    Raises:
        InputError: An argument does not fit the list, or a file cannot be used; `problems` holds all of them.
        KeyboardInterrupt: Ctrl-C came before there was a plan.
        TypeError: Something else than a list or a path was given, or a time limit that is no number.
        optimizer.errors.SolverFailureError: The solver refuses the model, a defect of the software.
        optimizer.errors.UnauditedError: The new list, by itself or with what was done, breaks a rule: a
            defect of the software.

    Example:
        >>> again = replan("plans/first-night/stored/request.2026-10-10.shots.json", now="01:20", parked=True)
        >>> again.shots.continues.begin.target is None
        True
    """
    from optimizer.errors import UnauditedError
    from optimizer.export.replan_name import sha256_of_list
    from optimizer.reading.given import list_given, seconds_given
    from optimizer.reading.shots_file import sha256_of_file
    from optimizer.replan import rest_of
    from optimizer.replan.asked import Asked, told_of
    from optimizer.report.replan_facts import replanned

    limit_s = seconds_given(time_limit_s, "replan()", "time_limit_s")
    if isinstance(shots, str | Path):
        older, sha256 = load_shots(shots), sha256_of_file(Path(shots))
    else:
        older = list_given(shots, "replan()")
        sha256 = sha256_of_list(older)
    asked = Asked(
        now=now,
        done=done,
        images=None if images is None else Path(images),
        parked=parked,
        pier_side=pier_side,
        at=at,
        filter=filter,
        focused=focused,
        drop_current=drop_current,
        until=until,
        blocks=blocks,
        without=without,
        only=only,
    )
    rest = rest_of(older, told_of(older, asked, "replan()"), sha256, limit_s=limit_s, tell=tell)
    if rest.shots.proof.status == "stopped" and not rest.shots.steps:
        raise KeyboardInterrupt
    if rest.violations:
        raise UnauditedError(violation.message for violation in rest.violations)
    return replanned(rest)


def tally(
    folder: str | Path,
    request: str | Path,
    *,
    reject: str | Path | None = None,
    skip_folders: Sequence[str] = (),
    recount: bool = False,
    include_outside: bool = False,
    tell: Callable[[int, int], None] | None = None,
) -> TallyReport:
    """Count the subs in a folder of FITS images for the goals of a request, as `darkfill tally` does.

    Only headers are read, and nothing in the folder is changed. The counts go to the CSV file that the
    request names as `tally`, the files seen to STEM.seen.csv beside it: a file counts once, wherever it lies.
    `load` adds what is counted there to `done` of the goals.

    Args:
        folder: The folder, with the folders in it.
        request: The request's file; it is not changed.
        reject: A text file of names, one a line, with or without ending and folders: subs of these names are
            taken off, in later calls too.
        skip_folders: Names of folders whose files are not counted.
        recount: Drop subs whose files have vanished from the folder, and forget older rejections in it.
        include_outside: Let the request include files, and name a tally, from outside its own folder.
        tell: Called after each file with the number of files read so far and of files in all.

    Returns:
        What `darkfill tally --json` prints: what was counted, what was not and why, and for each goal the
        subs wanted, in hand by night, and left. Exposures are in seconds.

    Raises:
        InputError: The request names no tally, or one of the files or the folder cannot be used.
        KeyboardInterrupt: Ctrl-C came; nothing was written then.
        TypeError: Something else than a path was given.
        optimizer.errors.OutputError: A file cannot be written; none was changed then.

    Example:
        >>> report = tally("images", "my-request.toml", skip_folders=["rejected"])
        >>> [(goal.target, goal.filter, goal.left) for goal in report.goals]
        [('Cradle', 'L', 2), ('Cradle', 'Ha', 6)]
    """
    from optimizer.export.tally_files import tally_folder
    from optimizer.reading.given import path_given
    from optimizer.report.tally_facts import tally_report

    if isinstance(skip_folders, str):
        raise TypeError(f"tally(): skip_folders takes a list of names, not text: [{skip_folders!r}]")
    place = path_given(folder, "tally()", "folder")
    done = tally_folder(
        place,
        path_given(request, "tally()", "request"),
        reject=None if reject is None else path_given(reject, "tally()", "reject"),
        skip_folders=skip_folders,
        recount=recount,
        allow_outside=include_outside,
        tell=tell,
    )
    return tally_report(
        done.request,
        place,
        done.place,
        done.counting,
        done.tally,
        hits=done.hits,
        notes=done.notes,
        recount=recount,
    )


def learn(
    folder: str | Path,
    request: str | Path,
    *,
    shots: ShotList | str | Path | None = None,
    write: str | Path | None = None,
    evening: dt.date | str | None = None,
    time_limit_s: float = 5.0,
    include_outside: bool = False,
    tell: Callable[[int, int], None] | None = None,
    doing: Callable[[str], None] | None = None,
) -> LearnReport:
    """Learn from the images of some nights what the rig really takes, as `darkfill learn` does.

    Headers of FITS files are read, and nothing in their folder or in the request is changed.

    Args:
        folder: The folder of images, with the folders in it.
        request: The request's file.
        shots: The list that one of the nights was taken by, or its JSON file: it tells which acts lie between
            two subs, and where night and list parted.
        write: A TOML file for the learned numbers, which the request can include; a file of that name is
            renamed to NAME.old. Nothing is written where no number changes.
        evening: The night that is planned with the learned numbers, in place of the request's: as in `load`.
        time_limit_s: Seconds for each of two searches, by the request's numbers and by those learned; above
            0, at most 86400.
        include_outside: Let the request include files from outside its own folder.
        tell: Called after each file with the number of files read so far and of files in all.
        doing: Called with what is being done as it begins, once all files are read.

    Returns:
        What `darkfill learn --json` prints: for each act of the rig its planned and real seconds or why these
        are not known, the keys to change, what the night gains by it, and how the list really went.

    Raises:
        InputError: The folder has no sub of a goal of the request, or one of the files cannot be used.
        KeyboardInterrupt: Ctrl-C came; nothing was written then.
        TypeError: Something else than a path or a list was given, or a time limit that is no number.
        optimizer.errors.OutputError: The file cannot be written; nothing was changed then.
        optimizer.errors.SolverFailureError: The solver refuses the model, a defect of the software.
        optimizer.errors.UnauditedError: A plan breaks a rule, a defect of the software.

    Example:
        >>> report = learn("images", "my-request.toml")
        >>> [(act.acts, act.count) for act in report.acts][:2]
        [(('between_subs',), 5), (('dither',), 0)]
    """
    from optimizer.export.learned_file import check_learned_file, write_learned
    from optimizer.learn.lesson import lesson_of
    from optimizer.reading.given import list_given, path_given, seconds_given
    from optimizer.report.learn_facts import learn_report
    from optimizer.report.learn_words import seen_words

    limit_s = seconds_given(time_limit_s, "learn()", "time_limit_s")
    place, path = path_given(folder, "learn()", "folder"), path_given(request, "learn()", "request")
    file = None if write is None else path_given(write, "learn()", "write")
    loaded = load(path, evening=evening, include_outside=include_outside)
    if file is not None:
        check_learned_file(path, file, allow_outside=include_outside)
    if isinstance(shots, str | Path):
        shots = load_shots(shots)
    lesson = lesson_of(
        place,
        path,
        loaded.request,
        None if shots is None else list_given(shots, "learn()"),
        allow_outside=include_outside,
        limit_s=limit_s,
        tell=tell,
        doing=doing,
    )
    report = learn_report(place, lesson)
    if file is None:
        return report
    written = write_learned(path, file, lesson, seen_words(report.subs, report.evenings))
    return report if written is None else learn_report(place, lesson, written)


def save(
    shots: ShotList, place: str | Path, *, page: bool = False, replace: bool = False
) -> tuple[Path, ...]:
    """Write a shot list as JSON and CSV, all files whole or none changed, as `darkfill plan` does.

    Args:
        shots: An audited list with steps.
        place: A folder, made where it is missing: the files are EVENING.shots.json and EVENING.shots.csv,
            EVENING being the night's date like 2026-11-14. Or the name of the JSON file, ending in .json: the
            CSV gets the same name with the ending .csv. In a folder, a list that goes on with a night is
            EVENING.replan-HHMM.shots.json, by the time of the replan in UTC.
        page: Draw the night as well: a page for any browser, ending in .html, with the list's name.
        replace: Replace whatever files have these names. Otherwise they must belong to a list of the same
            evening and site; those of another plan of that night are kept as NAME.old (then NAME.old.2, and
            so on), an older page as well.

    Returns:
        The files written: JSON, CSV, and the page where one is wanted.

    Raises:
        TypeError: Something else than a list was given, such as bare steps or a path.
        optimizer.errors.OutputError: A file cannot be written, is another night's, or the list has no steps.
        optimizer.errors.UnauditedError: The list was never audited, or its audit found violations.

    Example:
        >>> shots = load_shots("plans/first-night/stored/request.2026-10-10.shots.json")
        >>> [path.name for path in save(shots, "nights")]
        ['2026-10-10.shots.json', '2026-10-10.shots.csv']
    """
    from optimizer.export.shot_files import list_path, save_shots
    from optimizer.reading.given import list_given

    shots = list_given(shots, "save()")
    return save_shots(
        shots,
        list_path(Path(place), shots),
        page=(lambda: chart(shots).encode()) if page else None,
        replace=replace,
    )


@overload
def chart(
    shots: ShotList | Sequence[Step],
    request: Asked | None = None,
    *,
    form: Literal["html", "svg"] = "html",
    theme: Theme | None = None,
) -> str: ...
@overload
def chart(
    shots: ShotList | Sequence[Step],
    request: Asked | None = None,
    *,
    form: Literal["png", "pdf"],
    theme: Theme | None = None,
) -> bytes: ...
@overload
def chart(
    shots: ShotList | Sequence[Step],
    request: Asked | None = None,
    *,
    form: Form,
    theme: Theme | None = None,
) -> str | bytes: ...
def chart(
    shots: ShotList | Sequence[Step],
    request: Asked | None = None,
    *,
    form: Form = "html",
    theme: Theme | None = None,
) -> str | bytes:
    """Draw the night: one lane for each target, the sky above, the mount below.

    Args:
        shots: A list, or bare steps such as `load_shots(path, steps_only=True)` returns.
        request: The request to draw the steps with; bare steps need it.
        form: "html" is a page that asks for nothing from outside; "svg", "png" and "pdf" are pictures.
        theme: Colours of a picture ("light" without it), or those that a page opens with (as the system has
            it).

    Returns:
        Text for "html" and "svg", bytes for "png" and "pdf".

    Raises:
        TypeError: Bare steps were given without a request, or something else than a list or steps, such as a
            path.
        ValueError: There is no such form or theme.
        optimizer.errors.PrintingMissingError: PNG or PDF is wanted and the extra `print` is not installed.

    Example:
        >>> chart(load_shots("plans/first-night/stored/request.2026-10-10.shots.json"))[:15]
        '<!doctype html>'
    """
    from optimizer.report.picture.files import chart_bytes

    if form not in get_args(Form):
        raise ValueError(f"there is no form {form!r}; give html, svg, png or pdf")
    if theme not in (None, *get_args(Theme)):
        raise ValueError(f"there is no theme {theme!r}; give light, dark or red")
    drawn = chart_bytes(_shown(shots, request), f".{form}", theme)
    return drawn.decode() if form in ("html", "svg") else drawn


def _shown(shots: ShotList | Sequence[Step], request: Asked | None) -> ShownPlan:
    from optimizer.reading.given import list_given, request_given, steps_given
    from optimizer.report.picture.shown import shown_list, shown_steps

    if request is None:
        return shown_list(list_given(shots, "chart()", takes_steps=True))
    return shown_steps(request_given(request, "chart()"), steps_given(shots, "chart()"))


def _within(asked: Asked, time_limit_s: float | None, caller: str) -> Request:
    """The request, which needs targets, with another time limit where one is given."""
    from optimizer.reading.given import request_given, seconds_given

    request = request_given(asked, caller, targets_needed=True)
    if time_limit_s is None:
        return request
    return request.with_aim(time_limit_s=seconds_given(time_limit_s, caller, "time_limit_s"))


def _evening(evening: dt.date | str | None) -> dt.date | Tonight | None:
    from optimizer.reading.evening import EVENING_LIKE, evening_from_text
    from optimizer.reading.given import refused

    if isinstance(evening, dt.datetime):
        remedy = "give its date, or text like 2026-11-14"
        raise refused("load()", "evening", str(evening), "is an instant, not a date", remedy)
    if evening is None or isinstance(evening, dt.date):
        return evening
    if not isinstance(evening, str):
        kind = type(evening).__name__
        raise TypeError(f"load(): evening takes a date or text like 2026-11-14, not {kind}")
    try:
        return evening_from_text(evening)
    except ValueError:
        raise refused("load()", "evening", evening, "is no date", EVENING_LIKE) from None
