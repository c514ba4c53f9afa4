"""The shapes of a check: as the template holds it, as one case has it, as it is answered."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any, Literal, get_args

from cases.domain.json_shape import build, many, one_of
from cases.domain.words import gettext as _

SubjectKind = Literal["whole", "cast", "tooth", "face", "clasp", "border", "bar"]
Limits = tuple[float | None, float | None]


# By key and not in each measure: a case keeps the wording of its checks as it was grown.
COUNTED = frozenset({"closings"})
"""Keys of the numbers that count something."""


@dataclass(frozen=True)
class Measure:
    """One number a check asks for. ``low``/``high`` are inclusive limits in ``unit``; both
    None means the value is kept without a limit. ``source_value`` names a kept value that
    the number is judged against (``"12"``: cusp tip to survey line).

    ``from_design`` names what of the design sets the limits (``DESIGN_LIMITS``).
    ``refuse_low``/``refuse_high``: below or above these not even a concession helps.
    """

    key: str
    words: str
    unit: str
    low: float | None = None
    high: float | None = None
    source_value: str = ""
    from_design: str = ""
    refuse_low: float | None = None
    refuse_high: float | None = None

    @property
    def counted(self) -> bool:
        """Whether the number counts something: there is no half of it."""
        return self.key in COUNTED

    @property
    def limit_words(self) -> str:
        """The limit as the bench reads it, empty for a kept value."""
        unit = _(self.unit) if self.unit else ""
        if self.low is not None and self.high is not None:
            if self.low == self.high:
                return f"{self.low:g} {unit}".strip()
            return f"{self.low:g}–{self.high:g} {unit}".strip()
        if self.low is not None:
            return (_("at least %(low)g %(unit)s") % {"low": self.low, "unit": unit}).strip()
        if self.high is not None:
            return (_("at most %(high)g %(unit)s") % {"high": self.high, "unit": unit}).strip()
        return ""


@dataclass(frozen=True)
class Told:
    """Words a check asks for beside a number: one of ``choices``, or free where there are none.

    ``of`` is the key of the number they belong to (the unit of a reading, the product whose
    minutes are counted). ``usual`` stands there before anybody writes: what this lab uses.
    They are kept and shown; nothing is judged by them.
    """

    key: str
    words: str
    of: str = ""
    choices: tuple[str, ...] = ()
    usual: str = ""


@dataclass(frozen=True)
class Again:
    """The same subject is looked at again at ``stage``; ``limits`` replaces the limits by
    measure key ({"edge": [0.5, None]}); ``words`` and ``limit`` replace the wording where
    given, ``rule`` the rule and ``measures`` the numbers. ``as_yes_no``: nothing is measured
    there any more, it is only looked at."""

    stage: str
    when: str = "always"
    limits: Mapping[str, Limits] | None = None
    words: str = ""
    as_yes_no: bool = False
    rule: str = ""
    limit: str = ""
    measures: tuple[Measure, ...] = ()


@dataclass(frozen=True)
class CheckSpec:
    """One check of the template, as the bench reads it.

    ``number`` is the check's number in the lab's list. ``when`` is a condition name.
    ``subjects`` tells which subjects of the design it is asked for (``SUBJECTS``):
    ``"whole"``, ``"each-clasp"``, ``"each-face"``, ``"each-free-end"`` … ``words`` may hold
    [subject]. ``yes_no`` asks for yes or no, ``measures`` for numbers, ``photo`` for a
    photograph; ``keeps`` marks a value that later checks are judged against. ``limit`` is the
    limit in words, for what is seen and not entered as a number.
    """

    number: int
    stage: str
    subject: SubjectKind
    subjects: str
    words: str
    if_not: str
    when: str = "always"
    yes_no: bool = False
    measures: tuple[Measure, ...] = ()
    photo: bool = False
    keeps: bool = False
    again: tuple[Again, ...] = ()
    required: bool = True
    rule: str = "limits"
    mark: str = ""
    limit: str = ""
    told: tuple[Told, ...] = ()


@dataclass(frozen=True)
class PlannedCheck:
    """A check for one subject at one stage of one case. ``key`` is unique in the case and
    stable over re-growth of the route: ``"30@wax:44"``, or ``"1@receive"`` for the whole.

    ``pattern`` is ``words`` before the subject was filled in: the text to translate, and to
    fill with the tooth in the practice's own notation.
    """

    key: str
    number: int
    stage: str
    subject: str
    words: str
    if_not: str
    yes_no: bool
    measures: tuple[Measure, ...]
    photo: bool
    keeps: bool
    required: bool
    rule: str
    mark: str
    limit: str = ""
    pattern: str = ""
    subject_kind: SubjectKind = "whole"
    told: tuple[Told, ...] = ()

    def to_json(self) -> dict[str, Any]:
        """Return the check as JSON primitives."""
        data = asdict(self)
        data["measures"] = [asdict(measure) for measure in self.measures]
        data["told"] = _told_to_json(self.told)
        return data

    @classmethod
    def from_json(cls, data: dict[str, Any]) -> PlannedCheck:
        """Build the check from what ``to_json`` returned.

        Raises
        ------
        ValueError
            A field is unknown, missing or of another type.
        """
        nested = {
            "measures": many(measure_from_json),
            "subject_kind": one_of(SUBJECT_KINDS),
            "told": many(_told_from_json),
        }
        return build(cls, data, "check", nested)


@dataclass(frozen=True)
class Answer:
    """What a person entered: yes/no, numbers and words by key; ``photos`` counts them."""

    yes: bool | None = None
    values: Mapping[str, float] | None = None
    photos: int = 0
    words: Mapping[str, str] | None = None


@dataclass(frozen=True)
class Judgement:
    """``state`` is ``"passed"``, ``"failed"`` or ``"open"`` (something still missing);
    ``sentence`` states the fact and the next step ("0.4 mm above the line. Finishing takes
    that. Add wax."); ``concession`` tells whether a failed one may be accepted at all.
    ``binding``: failed for everybody, also where the lab made the check not required."""

    state: Literal["passed", "failed", "open"]
    sentence: str
    concession: bool = True
    binding: bool = False


SUBJECT_KINDS: tuple[str, ...] = get_args(SubjectKind)


def measure_from_json(data: Any, where: str) -> Measure:
    """Build a measure from JSON; ValueError names what is wrong."""
    return build(Measure, data, where, {})


def _told_from_json(data: Any, where: str) -> Told:
    return build(Told, data, where, {"choices": _choices_from_json})


def _choices_from_json(data: Any, where: str) -> tuple[str, ...]:
    if not isinstance(data, list | tuple) or not all(isinstance(one, str) for one in data):
        raise ValueError(f"{where} should be a list of words.")
    return tuple(data)


def _told_to_json(told: tuple[Told, ...]) -> list[dict[str, Any]]:
    return [{**asdict(one), "choices": list(one.choices)} for one in told]


def _limits_from_json(data: Any, where: str) -> dict[str, Limits] | None:
    if data is None:
        return None
    if not isinstance(data, Mapping):
        raise ValueError(f"{where} should be an object of [low, high] pairs.")
    limits: dict[str, Limits] = {}
    for key, pair in data.items():
        if not isinstance(pair, list | tuple) or len(pair) != 2:
            raise ValueError(f"{where}.{key} should be a pair [low, high].")
        limits[str(key)] = (pair[0], pair[1])
    return limits


def _again_from_json(data: Any, where: str) -> Again:
    nested = {"limits": _limits_from_json, "measures": many(measure_from_json)}
    return build(Again, data, where, nested)


def check_spec_to_json(spec: CheckSpec) -> dict[str, Any]:
    """Return the check of a template as JSON primitives."""
    data = asdict(spec)
    data["measures"] = [asdict(measure) for measure in spec.measures]
    data["told"] = _told_to_json(spec.told)
    data["again"] = []
    for again in spec.again:
        item = asdict(again)
        item["measures"] = [asdict(measure) for measure in again.measures]
        if again.limits is not None:
            item["limits"] = {key: list(pair) for key, pair in sorted(again.limits.items())}
        data["again"].append(item)
    return data


def check_spec_from_json(data: Any, where: str) -> CheckSpec:
    """Build the check of a template from JSON; ValueError names what is wrong."""
    nested = {
        "measures": many(measure_from_json),
        "again": many(_again_from_json),
        "told": many(_told_from_json),
        "subject": one_of(SUBJECT_KINDS),
    }
    return build(CheckSpec, data, where, nested)
