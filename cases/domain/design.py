"""The design of one appliance and the facts of the order that shape its route.

Plain data: both classes hold only what the route, the checks and the papers need.
``to_json``/``from_json`` use JSON primitives and are stable, because designs are stored
and hashed.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any, Literal, get_args

from cases.domain.design_parts import (
    NOT_SURVEYED,
    Bar,
    Bracing,
    Clasp,
    Coverage,
    GaugeSystem,
    Room,
    RuleConcession,
    Section,
    Side,
    Survey,
    ToothState,
    Undercut,
    concession_from_json,
    survey_from_json,
)
from cases.domain.teeth import primary_before

__all__ = [
    "Arch",
    "Bar",
    "Bracing",
    "Clasp",
    "Coverage",
    "Design",
    "GaugeSystem",
    "Room",
    "RuleConcession",
    "Section",
    "Side",
    "Survey",
    "ToothState",
    "Undercut",
    "WorkOrder",
]

Arch = Literal["upper", "lower"]
BlockOutMethod = Literal["none", "plaster", "wax-then-copy", "copy-then-plaster"]
Borders = Literal["left-full", "reduced-2mm", "as-drawn"]
Polish = Literal["none", "outer-borders-left", "all-outer"]
Bite = Literal["by-hand", "record", "rim"]
RouteKind = Literal["new", "adjustment", "repair", "addition", "remake"]
RemakeStart = Literal["", "new-impression", "kept-master", "kept-wax-index"]
CopyMaterial = Literal["silicone", "gel"]

BLOCK_OUT_METHODS: frozenset[str] = frozenset(get_args(BlockOutMethod))
COPY_METHODS: frozenset[str] = frozenset({"wax-then-copy", "copy-then-plaster"})
# Areas that may be relieved beside the gum lines, and notes on the bite. common practice, no
# published source
RELIEF_AREAS: tuple[str, ...] = (
    "torus",
    "frena",
    "palate-suture",
    "incisive-papilla",
    "sharp-ridge",
)
SLOPE_SIDES: frozenset[str] = frozenset({"right", "left"})
OCCLUSION: tuple[str, ...] = ("crossbite", "ground-in", "as-the-old-piece")


@dataclass(frozen=True)
class Design:
    """What the technician decided on the cast. Teeth are FDI integers of one arch.

    Attributes
    ----------
    missing, replaced, extracted
        Teeth that are gone (or, when in ``extracted``, will be at delivery), and the part of them
        that gets a denture tooth.
    dropped
        Teeth that were ordered and are left out for want of room.
    primary
        Places, as permanent numbers, where the milk tooth still stands.
    clasps, rests, stops
        Wires on teeth; teeth with an acrylic stop.
    abutments
        Teeth that bear or bound the piece with none of these. A third molar counts as standing
        only where something of the piece lies on it, or where it is named here.
    bar, strengthener
        Whether a bar lies inside the acrylic, and which, once somebody has said.
    joints, joint_teeth
        Soldered or welded joints, and the teeth they lie at.
    blocked, method, copy_in
        Blocked-out faces as (tooth, side); "lingual" means palatal in the upper arch, and a face of
        a missing tooth is that area of the ridge. ``copy_in`` is the duplicating material of the
        two copy methods.
    taper_deg
        How far the block-out opens away from parallel to the path; None or 0: parallel.
    unrelieved
        Faces, as in ``blocked``, at which the relief of gum line and papillae is left out.
    survey
        What the surveyor showed.
    advised, method_reason
        The block-out that the rules advised when this version was kept, and why another was
        chosen.
    hollowed
        Denture teeth hollowed clear of a wire.
    rooms
        What was measured for denture teeth.
    covered
        How far each pad or tuberosity is covered, as (area, how).
    relieved
        Areas relieved beside the gum lines, in words of ``RELIEF_AREAS``.
    occlusion
        Notes on the bite, in words of ``OCCLUSION``.
    crest_angle_deg
        Between the ridge lines and the bite plane behind, smallest; None: not looked at.
    on_slope
        The sides, of ``SLOPE_SIDES``, at which the last denture tooth would stand where the ridge
        climbs to the pad.
    plate_height_mm, plate_thickness_mm
        Of the plate behind the front teeth, where a bar would lie.
    concessions
        Rules passed by a named person.
    told
        What the practice told or the cast shows, in words of ``told.WORDS``.
    needs_agreement
        Whether the practice agrees first.
    provisional, draft
        True while the design is only what the order lets one expect, before the survey; true while
        the technician has not finished drawing it.
    """

    arch: Arch
    missing: frozenset[int] = frozenset()
    replaced: frozenset[int] = frozenset()
    extracted: frozenset[int] = frozenset()
    clasps: tuple[Clasp, ...] = ()
    rests: frozenset[int] = frozenset()
    bar: bool = False
    joints: int = 0
    blocked: frozenset[tuple[int, str]] = frozenset()
    method: BlockOutMethod = "none"
    needs_agreement: bool = False
    provisional: bool = False
    copy_in: CopyMaterial = "silicone"
    draft: bool = False
    dropped: frozenset[int] = frozenset()
    primary: frozenset[int] = frozenset()
    stops: frozenset[int] = frozenset()
    strengthener: Bar | None = None
    joint_teeth: frozenset[int] = frozenset()
    survey: Survey = NOT_SURVEYED
    advised: str = ""
    method_reason: str = ""
    hollowed: frozenset[int] = frozenset()
    rooms: tuple[Room, ...] = ()
    covered: tuple[tuple[str, str], ...] = ()
    relieved: frozenset[str] = frozenset()
    occlusion: frozenset[str] = frozenset()
    crest_angle_deg: float | None = None
    on_slope: frozenset[str] = frozenset()
    plate_height_mm: float | None = None
    plate_thickness_mm: float | None = None
    concessions: tuple[RuleConcession, ...] = ()
    told: frozenset[str] = frozenset()
    abutments: frozenset[int] = frozenset()
    taper_deg: float | None = None
    unrelieved: frozenset[tuple[int, str]] = frozenset()

    @property
    def master_kept(self) -> bool:
        """Whether a master cast survives the flask to be fitted to."""
        return self.method in COPY_METHODS

    def number_at(self, place: int) -> int:
        """Return the FDI number of what stands at a place: of its milk tooth where that stands."""
        return primary_before(place) if place in self.primary else place

    def clasp_on(self, tooth: int) -> Clasp | None:
        """Return the clasp of a tooth, or None."""
        return next((clasp for clasp in self.clasps if clasp.tooth == tooth), None)

    def to_json(self) -> dict[str, Any]:
        """Return the design as JSON primitives, sets sorted so that the hash is stable."""
        data = asdict(self)
        for name in _SETS:
            data[name] = sorted(getattr(self, name))
        for name in ("blocked", "unrelieved"):
            data[name] = [list(face) for face in sorted(getattr(self, name))]
        data["covered"] = [list(pair) for pair in self.covered]
        for name in ("clasps", "rooms"):
            data[name] = list(data[name])
        data["concessions"] = [one.to_json() for one in self.concessions]
        data["survey"]["undercuts"] = list(data["survey"]["undercuts"])
        return data

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> Design:
        """Build a design from what ``to_json`` returned, of this version or an older one."""
        bar = data.get("strengthener")
        read: dict[str, Any] = {
            **data,
            **{name: frozenset(data.get(name, ())) for name in _SETS if name != "on_slope"},
            "on_slope": _slopes(data.get("on_slope", ())),
            "clasps": tuple(Clasp(**clasp) for clasp in data["clasps"]),
            "blocked": frozenset((tooth, side) for tooth, side in data["blocked"]),
            "unrelieved": frozenset((tooth, side) for tooth, side in data.get("unrelieved", ())),
            "strengthener": Bar(**bar) if bar else None,
            "survey": survey_from_json(data.get("survey")),
            "rooms": tuple(Room(**room) for room in data.get("rooms", ())),
            "covered": tuple((area, how) for area, how in data.get("covered", ())),
            "concessions": tuple(map(concession_from_json, data.get("concessions", ()))),
        }
        return cls(**read)


_SETS = (
    "missing", "replaced", "extracted", "rests", "dropped", "primary", "stops", "joint_teeth",
    "hollowed", "relieved", "occlusion", "told", "abutments", "on_slope",
)  # fmt: skip


def _slopes(said: object) -> frozenset[str]:
    """An older design only said that there is a slope: it is looked for at both sides."""
    if isinstance(said, bool):
        return SLOPE_SIDES if said else frozenset()
    return frozenset(said)  # type: ignore[call-overload, no-any-return]


@dataclass(frozen=True)
class WorkOrder:
    """The facts of the order that decide which stages a case has.

    ``impressions_came``: something is to be poured. ``casts`` counts casts to pour or to
    trim (working and opposing). ``disinfection_proven``: there is written proof.
    ``alginate``: an impression is in alginate (or nobody knows), which must not dry on the
    cast. ``pour_limit_minutes`` is the impression product's own limit from *taken* to
    *poured*; None where nobody has said it.
    """

    kind: RouteKind = "new"
    impressions_came: bool = True
    scan: bool = False
    casts: int = 2
    opposing: bool = True
    disinfection_proven: bool = False
    bite: Bite = "by-hand"
    try_in: bool = False
    borders: Borders = "left-full"
    polish: Polish = "all-outer"
    remake_start: RemakeStart = ""
    alginate: bool = True
    pour_limit_minutes: float | None = None

    def to_json(self) -> dict[str, Any]:
        """Return the order facts as JSON primitives."""
        return {
            "kind": self.kind,
            "impressions_came": self.impressions_came,
            "scan": self.scan,
            "casts": self.casts,
            "opposing": self.opposing,
            "disinfection_proven": self.disinfection_proven,
            "bite": self.bite,
            "try_in": self.try_in,
            "borders": self.borders,
            "polish": self.polish,
            "remake_start": self.remake_start,
            "alginate": self.alginate,
            "pour_limit_minutes": self.pour_limit_minutes,
        }

    @classmethod
    def from_json(cls, data: dict[str, Any]) -> WorkOrder:
        """Build the order facts from what ``to_json`` returned."""
        return cls(**data)
