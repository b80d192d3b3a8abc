"""Every rule, in the order in which violations of one step are listed."""

from __future__ import annotations

from optimizer.audit.rule import Rule, SpanRule
from optimizer.audit.rules.acquired import Acquired
from optimizer.audit.rules.altitude import Acquisition, Ceiling, Floor, Skyline
from optimizer.audit.rules.begins import Begins, BegunInZone
from optimizer.audit.rules.columns import Columns
from optimizer.audit.rules.dither import DitherEvery
from optimizer.audit.rules.focus import FocusAfterFlip, FocusEvery, FocusFilter, FocusNewTarget
from optimizer.audit.rules.goals import Frames, GoalMatch
from optimizer.audit.rules.latest import LatestStart
from optimizer.audit.rules.lengths import SlewTime, StepLength
from optimizer.audit.rules.light_path import LightPath
from optimizer.audit.rules.meridian import Contact, FlipFrom, LowerCulmination, Quiet
from optimizer.audit.rules.moon import MoonGap, Moonlight
from optimizer.audit.rules.names import KnownFilter, KnownTarget
from optimizer.audit.rules.order import Contiguous, EndsWithPark, Straddle, WithinNight
from optimizer.audit.rules.pier import PierSide, Sides
from optimizer.audit.rules.pointing import Coordinates, PositionAngle
from optimizer.audit.rules.rotator import Rotator
from optimizer.audit.rules.slack import Slack
from optimizer.audit.rules.spells import Blocked, Clear
from optimizer.audit.rules.sun import Darkness, SunDown
from optimizer.audit.rules.tracking import Tracking
from optimizer.audit.rules.visits import LeastVisit, OneRun, Visits

SPAN_RULES: tuple[SpanRule, ...] = (
    SunDown(),
    Darkness(),
    Floor(),
    Ceiling(),
    Skyline(),
    Acquisition(),
    MoonGap(),
    Moonlight(),
    Clear(),
    Blocked(),
    Contact(),
    FlipFrom(),
    LowerCulmination(),
    Quiet(),
    Sides(),
)
RULES: tuple[Rule, ...] = (
    Contiguous(),
    EndsWithPark(),
    WithinNight(),
    StepLength(),
    SlewTime(),
    KnownTarget(),
    KnownFilter(),
    Coordinates(),
    PositionAngle(),
    GoalMatch(),
    Frames(),
    Acquired(),
    Rotator(),
    LightPath(),
    PierSide(),
    OneRun(),
    Visits(),
    LeastVisit(),
    Straddle(),
    *SPAN_RULES,
    FocusNewTarget(),
    FocusAfterFlip(),
    FocusFilter(),
    FocusEvery(),
    DitherEvery(),
    Tracking(SPAN_RULES),
    LatestStart(SPAN_RULES),
    Columns(),
)
CONTINUED_RULES: tuple[Rule, ...] = (Begins(),)  # asked of lists that go on with a night alone
QUALITY_RULES: tuple[Rule, ...] = (Slack(), BegunInZone())
STEP_RULE_NAMES: tuple[str, ...] = tuple(rule.name for rule in RULES)
CONTINUED_RULE_NAMES: tuple[str, ...] = tuple(rule.name for rule in CONTINUED_RULES)
QUALITY_RULE_NAMES: tuple[str, ...] = tuple(rule.name for rule in QUALITY_RULES)
LIST_RULE_NAMES: tuple[str, ...] = ("totals", "proof", "night_facts", "values")
SEASON_RULE_NAMES: tuple[str, ...] = ("season",)  # asked of lists that were planned in view of a season alone
