"""A list cut anywhere: its rest passes by itself, and joined with what was done; the audit begins anywhere."""

from __future__ import annotations

import random
from functools import cache
from pathlib import Path

import pytest

from optimizer.audit import audit_joined, audit_shot_list, audit_steps
from optimizer.audit.registry import CONTINUED_RULE_NAMES, LIST_RULE_NAMES, STEP_RULE_NAMES
from optimizer.export.shot_files import read_shots
from optimizer.models.continues import Begin
from optimizer.models.shots import ShotList, Step
from optimizer.report.audit_view import audit_view, goes_on_line
from tests.support.checks import there
from tests.support.hand_laid.cut_nights import begin_after, cut, going_on, on_target, rest_of, standing_at
from tests.support.hand_laid.list_builder import shot_list
from tests.support.hand_laid.mutations import later, number_of
from tests.support.hand_laid.night_cases import VALID, Night, at, flipped, request, southern, tight, turned
from tests.support.property_plans import plan_of
from tests.support.report_cases import text
from tests.support.speeds import deep
