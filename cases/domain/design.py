"""The design of one appliance and the facts of the order that shape its route.

Plain data: both classes hold only what the route, the checks and the papers need.
``to_json``/``from_json`` use JSON primitives and are stable, because designs are stored
and hashed.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

Arch = Literal["upper", "lower"]
BlockOutMethod = Literal["none", "plaster", "wax-then-copy", "copy-then-plaster"]
Side = Literal["mesial", "distal", "buccal", "lingual"]
Borders = Literal["left-full", "reduced-2mm", "as-drawn"]
Polish = Literal["none", "outer-borders-left", "all-outer"]
Bite = Literal["by-hand", "record", "rim"]
RouteKind = Literal["new", "adjustment", "repair", "addition", "remake"]
RemakeStart = Literal["", "new-impression", "kept-master", "kept-wax-index"]
CopyMaterial = Literal["silicone", "gel"]

COPY_METHODS: frozenset[str] = frozenset({"wax-then-copy", "copy-then-plaster"})


@dataclass(frozen=True)
class Clasp:
    """One wrought-wire clasp: the tooth it holds and the wire it is bent from.

    ``wire_mm`` and ``free_arm_mm`` in millimetres, ``undercut_mm`` the gauge step
    (0.25, 0.50, 0.75); ``None`` where nobody has decided yet.
    """

    tooth: int
    wire_mm: float | None = None
    undercut_mm: float | None = None
    free_arm_mm: float | None = None

    def to_json(self) -> dict[str, Any]:
        """Return the clasp as JSON primitives."""
        return {
            "tooth": self.tooth,
            "wire_mm": self.wire_mm,
            "undercut_mm": self.undercut_mm,
            "free_arm_mm": self.free_arm_mm,
        }


@dataclass(frozen=True)
class Design:
    """What the technician decided on the cast. Teeth are FDI integers of one arch.

    ``missing`` teeth are gone (or, when in ``extracted``, will be at delivery);
    ``replaced`` is the part of them that gets a denture tooth. ``blocked`` holds the
    blocked-out faces as (tooth, side); "lingual" means palatal in the upper arch, and a face of
    a missing tooth is that area of the ridge. ``copy_in`` is the duplicating material of the two
    copy methods. ``provisional`` is true while the design is only
    what the order lets one expect, before the survey.
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

    @property
    def master_kept(self) -> bool:
        """Whether a master cast survives the flask to be fitted to."""
        return self.method in COPY_METHODS

    def to_json(self) -> dict[str, Any]:
        """Return the design as JSON primitives, sets sorted so that the hash is stable."""
        return {
            "arch": self.arch,
            "missing": sorted(self.missing),
            "replaced": sorted(self.replaced),
            "extracted": sorted(self.extracted),
            "clasps": [clasp.to_json() for clasp in self.clasps],
            "rests": sorted(self.rests),
            "bar": self.bar,
            "joints": self.joints,
            "blocked": [list(face) for face in sorted(self.blocked)],
            "method": self.method,
            "needs_agreement": self.needs_agreement,
            "provisional": self.provisional,
            "copy_in": self.copy_in,
        }

    @classmethod
    def from_json(cls, data: dict[str, Any]) -> Design:
        """Build a design from what ``to_json`` returned."""
        return cls(
            arch=data["arch"],
            missing=frozenset(data["missing"]),
            replaced=frozenset(data["replaced"]),
            extracted=frozenset(data["extracted"]),
            clasps=tuple(Clasp(**clasp) for clasp in data["clasps"]),
            rests=frozenset(data["rests"]),
            bar=data["bar"],
            joints=data["joints"],
            blocked=frozenset((tooth, side) for tooth, side in data["blocked"]),
            method=data["method"],
            needs_agreement=data["needs_agreement"],
            provisional=data["provisional"],
            copy_in=data.get("copy_in", "silicone"),
        )


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
