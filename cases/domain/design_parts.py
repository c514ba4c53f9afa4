"""The parts of a design: wires, the strengthener, what the surveyor found, who took it on himself.

Plain data; every part reads back what ``dataclasses.asdict`` gave of it, and what an older
version of it did not know takes its default.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from hashlib import sha256
from typing import Any, Literal

Side = Literal["mesial", "distal", "buccal", "lingual"]
GaugeSystem = Literal["", "awg", "swg", "mm"]
Section = Literal["round", "half_round"]
Bracing = Literal["", "plate", "collar", "wire", "none"]
ToothState = Literal["", "loose", "to-be-lost", "root-filled"]
Coverage = Literal["", "whole", "front-half", "to-the-notch", "as-cast"]

# What fills a place of a sentence: a number, a word, or several teeth or words.
Fact = int | float | str | tuple[int, ...] | tuple[str, ...] | None

SIDES: tuple[Side, ...] = ("mesial", "distal", "buccal", "lingual")
# Undercuts as a gauge shows them; 1.00 stands for "more". common practice, no published source
STEPS_MM: tuple[float, ...] = (0.0, 0.25, 0.5, 0.75, 1.0)
STAINLESS = "stainless"
# Enough that two sentences of one design do not share a mark.
MARK_SIGNS = 12


@dataclass(frozen=True, slots=True)
class Clasp:
    """One wrought-wire clasp: the tooth it holds, the wire it is bent from, what faces it.

    Lengths in millimetres; None, or an empty word, where nobody has decided yet.

    Attributes
    ----------
    tooth
        FDI number.
    wire_mm, undercut_mm, free_arm_mm
        Diameter, gauge step at the chosen tilt, and length along the wire from where it leaves
        the acrylic to the tip.
    tip_wire_mm
        Diameter at the tip of an arm that is tapered; None: one thickness throughout.
    gauge, gauge_system
        The wire as it was asked for, and by which table; the millimetres are what counts.
    section, alloy
        Cross-section, and a key of ``wire.ALLOYS``.
    tip
        Which way the arm runs: the side of the tooth near which its tip lies.
    face
        The side of the tooth that the arm lies on; its bracing is on the other.
    level_mm
        Undercut of the tip with the cast level; 0 where the rod shows no daylight.
    bracing, bracing_mm
        What faces the clasp from the other side, and how far above that side's survey line its
        edge is to lie (negative: below it).
    braces_first
        Whether, going in, the bracing touches the tooth before the tip of the clasp, or together
        with it; None: not judged.
    line_mm
        Cusp tip, or edge, to the survey line on the bracing side.
    gum_mm
        The gum line to the nearest edge of the wire at its tip.
    room_mm
        Room where the wire crosses the bite.
    joint_mm
        The nearest soldered or welded joint to the free arm.
    state
        What the practice told of the tooth.
    shows
        Whether the wire would be seen in front.
    wraps
        Whether arm, bracing and acrylic hold the tooth past half its round; None: not judged.
    """

    tooth: int
    wire_mm: float | None = None
    undercut_mm: float | None = None
    free_arm_mm: float | None = None
    gauge: str = ""
    gauge_system: GaugeSystem = ""
    section: Section = "round"
    alloy: str = STAINLESS
    tip: Literal["", "mesial", "distal"] = ""
    face: Literal["buccal", "lingual"] = "buccal"
    level_mm: float | None = None
    bracing: Bracing = ""
    bracing_mm: float | None = None
    line_mm: float | None = None
    gum_mm: float | None = None
    room_mm: float | None = None
    joint_mm: float | None = None
    state: ToothState = ""
    shows: bool = False
    wraps: bool | None = None
    braces_first: bool | None = None
    tip_wire_mm: float | None = None

    @property
    def bracing_face(self) -> Side:
        """The side of the tooth that the bracing lies on."""
        return "lingual" if self.face == "buccal" else "buccal"


@dataclass(frozen=True, slots=True)
class Bar:
    """The strengthener inside the acrylic.

    Attributes
    ----------
    size_mm
        Diameter of a round bar, width of a half-round one.
    gauge, gauge_system
        As it was asked for.
    relief_mm
        Distance from the cast.
    cover_mm
        Acrylic to come all round.
    held
        How it is kept in place while packing; free words.
    reason
        Why there is one where none is usual (an upper), or none where one is advised.
    in_grinding
        Whether it lies where the dentist may grind.
    """

    section: Section = "half_round"
    size_mm: float | None = None
    gauge: str = ""
    gauge_system: GaugeSystem = ""
    relief_mm: float | None = None
    cover_mm: float | None = None
    held: str = ""
    reason: str = ""
    in_grinding: bool = False


@dataclass(frozen=True, slots=True)
class Undercut:
    """What the gauge showed at one face at the chosen tilt; a missing tooth stands for its ridge.

    ``level_mm`` is the step with the cast level, None where nobody looked.
    """

    tooth: int
    side: Side
    step_mm: float
    level_mm: float | None = None


@dataclass(frozen=True, slots=True)
class Survey:
    """The cast on the surveyor: how it was tilted, and what the rod and the gauges showed.

    Attributes
    ----------
    tilt_deg
        Away from level, in degrees; None until somebody has set it.
    tilt_to
        Which way: the part of the arch that is lowered.
    marked
        Whether the three marks are on the cast.
    undercuts
        One for each face looked at, in the order of the arch.
    """

    tilt_deg: float | None = None
    tilt_to: Literal["", "front", "back", "right", "left"] = ""
    marked: bool = False
    undercuts: tuple[Undercut, ...] = ()

    def steps(self) -> dict[tuple[int, str], float]:
        """The step of each face, as ``blockout.advise`` takes them."""
        return {(found.tooth, found.side): found.step_mm for found in self.undercuts}


NOT_SURVEYED = Survey()


def said_mark(words: str, facts: Mapping[str, Any]) -> str:
    """Return a short mark of a filled sentence: the same where a rule says the same.

    Numbers count as they are said, so that the last places of a reckoning make no difference.
    """
    return sha256((words % facts).encode()).hexdigest()[:MARK_SIGNS]


@dataclass(frozen=True, slots=True)
class RuleConcession:
    """A rule that a named person took on himself to pass.

    Attributes
    ----------
    by
        A person's key.
    words, facts
        What the rule said when it was passed: its sentence with named places, and what fills
        them, by name. Empty where the design is older than this.
    seen
        ``said_mark`` of the sentence that stands above the reason on the page, until it is kept.
    """

    rule: str
    subject: str
    reason: str
    by: int | None = None
    words: str = ""
    facts: tuple[tuple[str, Fact], ...] = ()
    seen: str = ""

    @property
    def mark(self) -> str:
        """``said_mark`` of what the rule said when it was passed; empty where nobody kept it."""
        return said_mark(self.words, dict(self.facts)) if self.words else ""

    def covers(self, mark: str) -> bool:
        """Whether it was given for a sentence of this mark; an older one covers any."""
        return self.mark in ("", mark)

    def passes(self, mark: str) -> bool:
        """Whether a named person gave it, with a reason, for a sentence of this mark."""
        return self.by is not None and bool(self.reason) and self.covers(mark)

    def to_json(self) -> dict[str, Any]:
        """Return the concession as JSON primitives."""
        facts = [
            [name, list(fact) if isinstance(fact, tuple) else fact] for name, fact in self.facts
        ]
        return {**asdict(self), "facts": facts}


def concession_from_json(data: Mapping[str, Any]) -> RuleConcession:
    """Read a concession back, of this version or an older one."""
    facts = tuple(
        (name, tuple(fact) if isinstance(fact, list) else fact)
        for name, fact in data.get("facts", ())
    )
    return RuleConcession(**{**data, "facts": facts})


@dataclass(frozen=True, slots=True)
class Room:
    """What was measured for one denture tooth, in mm: between its neighbours, and above the ridge.

    ``mould_mm`` is the width of the tooth of the mould chosen.
    """

    tooth: int
    width_mm: float | None = None
    mould_mm: float | None = None
    height_mm: float | None = None


def survey_from_json(data: Mapping[str, Any] | None) -> Survey:
    """Read a survey back; None is one that has not been made."""
    if not data:
        return NOT_SURVEYED
    undercuts = tuple(Undercut(**found) for found in data.get("undercuts", ()))
    return Survey(**{**data, "undercuts": undercuts})
