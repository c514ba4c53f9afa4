"""Checks: what must be true, measured or seen before a stage may be finished.

The door to the subject; the parts live beside it: shapes in ``check_spec``, subjects in
``subjects``, the checks of one case in ``plan_checks``, judging in ``judgement``, the default
checks in ``check_data``.
"""

from __future__ import annotations

from cases.domain.check_spec import (
    Again,
    Answer,
    CheckSpec,
    Judgement,
    Measure,
    PlannedCheck,
    SubjectKind,
    Told,
)
from cases.domain.judgement import RULE_WORDS, RULES, judge, told_of
from cases.domain.plan_checks import (
    BORDER_WORDS,
    DESIGN_LIMIT_WORDS,
    DESIGN_LIMITS,
    POLISH_WORDS,
    plan_checks,
)
from cases.domain.subjects import SUBJECT_WORDS, SUBJECTS, subjects_of

__all__ = [
    "BORDER_WORDS",
    "DESIGN_LIMITS",
    "DESIGN_LIMIT_WORDS",
    "POLISH_WORDS",
    "RULES",
    "RULE_WORDS",
    "SUBJECTS",
    "SUBJECT_WORDS",
    "Again",
    "Answer",
    "CheckSpec",
    "Judgement",
    "Measure",
    "PlannedCheck",
    "SubjectKind",
    "Told",
    "judge",
    "plan_checks",
    "subjects_of",
    "told_of",
]
