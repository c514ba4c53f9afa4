"""The stage network of the lab as data: stages, edges, and the template that holds them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any, Literal, get_args

from cases.domain.check_spec import CheckSpec, check_spec_from_json, check_spec_to_json
from cases.domain.conditions import holds
from cases.domain.design import Design, WorkOrder
from cases.domain.json_shape import build, many, one_of
from cases.domain.words import N_
from cases.domain.words import gettext as _

StageKind = Literal["attended", "unattended", "load", "external"]
Night = Literal["yes", "no", "limit"]

STAGE_KINDS: tuple[str, ...] = get_args(StageKind)
NIGHTS: tuple[str, ...] = get_args(Night)
THINGS: tuple[str, ...] = (
    N_("box"), N_("impression"), N_("cast"), N_("articulator"), N_("flask"), N_("press"),
    N_("clamp"), N_("bath"),
)  # fmt: skip
UNTIL_FINISH = "finish"
UNTIL_WAIT = "wait"

# What a minutes formula may count. common practice, no published source
COUNT_WORDS: dict[str, str] = {
    "fixed": N_("fixed part, shared when several cases are done together"),
    "C": N_("clasps"),
    "R": N_("wire rests"),
    "T": N_("teeth replaced"),
    "X": N_("teeth extracted at delivery"),
    "F": N_("faces blocked out"),
    "B": N_("bar (0 or 1)"),
    "J": N_("joints to solder or weld"),
    "P": N_("upper plate (0 or 1)"),
    "N": N_("casts"),
}
METHODS: tuple[str, ...] = ("none", "plaster", "wax-then-copy", "copy-then-plaster")


@dataclass(frozen=True)
class Held:
    """A thing that a stage occupies: ``thing`` is one of ``THINGS``; ``until`` is
    ``"finish"`` (of this stage), ``"wait"`` (end of the wait after it) or the key of the
    stage whose finish frees it. ``when`` is a condition name."""

    thing: str
    until: str
    when: str = "always"


@dataclass(frozen=True)
class NightWhen:
    """Another answer to "may it rest here overnight?" where the condition ``when`` is true."""

    when: str
    night: Night
    words: str


@dataclass(frozen=True)
class StageSpec:
    """One stage of the template.

    ``when`` is the name of a condition (see ``CONDITIONS``). ``minutes`` maps a block-out
    method or ``"*"`` to coefficients: ``{"*": {"fixed": 4, "N": 2}}`` reads 4 + 2N.
    ``at_practice``: after the hands-on part the piece is away until a person enters that it
    came back. ``public_words`` is the sentence a dentist reads while the case stands here.
    ``photo_before`` says why a photograph (and for a student a countersign) is asked *before*
    this stage begins, where ``photo_when`` is true. ``inside_words``: the waits inside the
    stage. ``beside_copy``: with a copy, the master may be in hand for it instead of the working
    cast. ``more_each``: minutes for every further
    case in the same load. ``night_when``: exceptions to ``night``, the first true one speaks.
    ``other_than``: a second pair of eyes; who did that stage does not do this one, where
    somebody else can.
    """

    key: str
    name: str
    kind: StageKind
    when: str
    minutes: Mapping[str, Mapping[str, float]]
    skill: str
    station: str
    night: Night
    night_words: str
    public_words: str
    holds: tuple[Held, ...] = ()
    needs_cast: bool = False
    at_practice: bool = False
    batch: bool = False
    photo_before: str = ""
    mark: str = "judgement"
    photo_when: str = "always"
    more_each: float = 0
    inside_words: str = ""
    beside_copy: bool = False
    night_when: tuple[NightWhen, ...] = ()
    other_than: str = ""


@dataclass(frozen=True)
class EdgeSpec:
    """``after`` may begin ``min_wait`` minutes after ``before`` ended, and should begin at
    the latest ``max_wait`` minutes after it (None: no limit).

    ``least_wait``: with how little a person may go on by decision (None: not less than
    ``min_wait``). ``latest_words`` says why waiting longer harms.
    """

    before: str
    after: str
    when: str = "always"
    min_wait: float = 0
    max_wait: float | None = None
    least_wait: float | None = None
    latest_words: str = ""
    mark: str = "judgement"


@dataclass(frozen=True)
class RouteTemplate:
    """The whole network with its checks, for every kind of route (see ``RouteKind``)."""

    stages: tuple[StageSpec, ...]
    edges: tuple[EdgeSpec, ...]
    checks: tuple[CheckSpec, ...]

    def to_json(self) -> dict[str, Any]:
        """Return the template as JSON primitives (stable order)."""
        return {
            "stages": [_stage_to_json(stage) for stage in self.stages],
            "edges": [asdict(edge) for edge in self.edges],
            "checks": [check_spec_to_json(check) for check in self.checks],
        }

    @classmethod
    def from_json(cls, data: dict[str, Any]) -> RouteTemplate:
        """Build a template from what ``to_json`` returned; ValueError names what is wrong."""
        nested = {
            "stages": many(_stage_from_json),
            "edges": many(_edge_from_json),
            "checks": many(check_spec_from_json),
        }
        return build(cls, data, "route", nested)


def counts(order: WorkOrder, design: Design) -> dict[str, float]:
    """Return what a minutes formula may count, by the letters of ``COUNT_WORDS``."""
    return {
        "fixed": 1,
        "C": len(design.clasps),
        "R": len(design.rests),
        "T": len(design.replaced),
        "X": len(design.extracted),
        "F": len(design.blocked),
        "B": int(design.bar),
        "J": design.joints,
        "P": int(design.arch == "upper"),
        "N": order.casts,
    }


def minutes_of(stage: StageSpec, order: WorkOrder, design: Design) -> float:
    """Return the attended minutes of a stage for one case alone.

    Raises
    ------
    ValueError
        The formula counts something that nobody knows.
    """
    formula = stage.minutes.get(design.method, stage.minutes.get("*", {}))
    number = counts(order, design)
    unknown = set(formula) - set(number)
    if unknown:
        raise ValueError(f"The minutes of “{stage.name}” count “{min(unknown)}”: nobody knows it.")
    return sum(coefficient * number[letter] for letter, coefficient in formula.items())


def night_of(stage: StageSpec, order: WorkOrder, design: Design) -> tuple[Night, str]:
    """Return whether this case may rest at the stage overnight, and the words for it."""
    for exception in stage.night_when:
        if holds(exception.when, order, design):
            return exception.night, exception.words
    return stage.night, stage.night_words


def _stage_to_json(stage: StageSpec) -> dict[str, Any]:
    data = asdict(stage)
    data["minutes"] = {method: dict(formula) for method, formula in stage.minutes.items()}
    data["holds"] = [asdict(held) for held in stage.holds]
    data["night_when"] = [asdict(exception) for exception in stage.night_when]
    return data


def _minutes_from_json(data: Any, where: str) -> dict[str, dict[str, float]]:
    if not isinstance(data, Mapping):
        raise ValueError(f"{where} should map a block-out method or * to a formula.")
    for method, formula in data.items():
        if method != "*" and method not in METHODS:
            raise ValueError(f"{where}: nobody knows the block-out method “{method}”.")
        if not isinstance(formula, Mapping):
            raise ValueError(f"{where}.{method} should be a formula like fixed 4, N 2.")
        for letter, coefficient in formula.items():
            number = isinstance(coefficient, int | float) and not isinstance(coefficient, bool)
            if letter not in COUNT_WORDS or not number:
                raise ValueError(f"{where}.{method}: “{letter} {coefficient}” is no part of one.")
    return {method: dict(formula) for method, formula in data.items()}


def _held_from_json(data: Any, where: str) -> Held:
    return build(Held, data, where, {"thing": one_of(THINGS)})


def _night_from_json(data: Any, where: str) -> NightWhen:
    return build(NightWhen, data, where, {"night": one_of(NIGHTS)})


def _stage_from_json(data: Any, where: str) -> StageSpec:
    nested = {
        "kind": one_of(STAGE_KINDS),
        "night": one_of(NIGHTS),
        "minutes": _minutes_from_json,
        "holds": many(_held_from_json),
        "night_when": many(_night_from_json),
    }
    return build(StageSpec, data, where, nested)


def _edge_from_json(data: Any, where: str) -> EdgeSpec:
    return build(EdgeSpec, data, where, {})


def latest_words(edge: EdgeSpec) -> str:
    """Say how long the piece may wait on an edge, and why, or return an empty text."""
    if edge.max_wait is None:
        return edge.latest_words
    hours, minutes = divmod(round(edge.max_wait), 60)
    span = (
        _("%(hours)d h") % {"hours": hours}
        if hours and not minutes
        else _("%(minutes)d min") % {"minutes": minutes}
    )
    if hours and minutes:
        span = _("%(hours)s h %(minutes)d min") % {"hours": hours, "minutes": minutes}
    return (
        _("At most %(span)s. %(words)s") % {"span": span, "words": _(edge.latest_words)}
    ).strip()
