"""The order as received: what the prescription says and what came in the box.

Plain data that is stored once and never altered; a typing error is corrected by a later entry.
No patient reference, no names: those stand in columns of their own, which can be blanked when
their time is over. ``to_json``/``from_json`` use JSON primitives and are stable.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, datetime, time
from typing import Any, cast

from cases.domain.design import Arch, Bite, Borders, Polish, RemakeStart, RouteKind, WorkOrder
from cases.domain.impression import ALGINATES, pour_limit_minutes
from cases.domain.teeth import arch_of


@dataclass(frozen=True)
class Item:
    """One thing that came in the box, or that follows later.

    Attributes
    ----------
    kind : str
        Of `order_choices.ITEMS`.
    form : str
        Of `order_choices.FORMS`, for the working and the opposing arch.
    arch : str
        For a pair: which arch it shows. Empty otherwise.
    follows_later, expected_on
        It is not in the box; the day it is expected, where said.
    material : str
        Of `impression.MATERIALS`, for an impression.
    pour_limit_minutes : int | None
        The product's own limit in minutes; None: the default of the material.
    taken_at : datetime | None
        Aware instant at which the impression was taken.
    tray : str
        Of `order_choices.TRAYS`; empty when not known.
    """

    kind: str
    form: str = ""
    arch: str = ""
    follows_later: bool = False
    expected_on: date | None = None
    material: str = ""
    pour_limit_minutes: int | None = None
    taken_at: datetime | None = None
    tray: str = ""

    @property
    def is_impression(self) -> bool:
        """Whether it is an impression of a dental arch."""
        return self.form == "impression"


@dataclass(frozen=True)
class Disinfection:
    """What is known about disinfection. "not-known" counts as contaminated.

    ``minutes`` is the contact time, ``at`` the aware instant it was done, where said.
    """

    done: str = "not-known"
    by: str = ""
    agent: str = ""
    minutes: int | None = None
    at: datetime | None = None

    @property
    def proven(self) -> bool:
        """Whether there is written proof: by whom, with what and how long."""
        return self.done == "yes" and bool(self.by and self.agent.strip() and self.minutes)


@dataclass(frozen=True)
class Extraction:
    """A tooth to be taken out at delivery, and how deep the cast is cut there.

    ``depth`` of `order_choices.EXTRACTION_DEPTHS`; empty when not said.
    """

    tooth: int
    depth: str = ""


@dataclass(frozen=True)
class OrderForm:
    """The order as received. Teeth are FDI integers; empty text and None mean "not said".

    Attributes
    ----------
    kind, arch, remake_start, borders, polish, bite, shade_how, mould_how
        Values of the lists in `order_choices`.
    description : str
        What is ordered in words; for a repair or adjustment, what is to be done.
    replaces : tuple[int, ...]
        Teeth to replace (for an addition: to add).
    extractions, extraction_order
        Teeth taken out at delivery; whether a written order for them is there.
    materials : str
        Materials asked for, in words.
    try_in : bool | None
        None: not said.
    allergies, allergy_words
        Values of `order_choices.ALLERGIES`; empty: nothing was said.
    ordered_on : date | None
        The date on the prescription.
    appointment_on, appointment_time, needed_on
        Days (and wall time) at the practice.
    received_at : datetime | None
        Aware instant at which the box came.
    dentist_named, signed, licence_given : bool
        What the prescription bears.
    """

    kind: str = "new"
    arch: str = "upper"
    remake_start: str = ""
    description: str = ""
    replaces: tuple[int, ...] = ()
    extractions: tuple[Extraction, ...] = ()
    extraction_order: bool = False
    shade_how: str = ""
    shade: str = ""
    shade_guide: str = ""
    mould_how: str = ""
    mould: str = ""
    materials: str = ""
    borders: str = ""
    polish: str = ""
    bite: str = ""
    try_in: bool | None = None
    allergies: tuple[str, ...] = ()
    allergy_words: str = ""
    ordered_on: date | None = None
    appointment_on: date | None = None
    appointment_time: time | None = None
    needed_on: date | None = None
    rush: bool = False
    received_at: datetime | None = None
    items: tuple[Item, ...] = ()
    disinfection: Disinfection = Disinfection()
    dentist_named: bool = False
    signed: bool = False
    licence_given: bool = False

    def found(self, kind: str, *, arch: str = "") -> tuple[Item, ...]:
        """Return the items of a kind, whether here or following; of one arch if named."""
        return tuple(
            item
            for item in self.items
            if item.kind == kind and (not arch or item.arch in ("", arch))
        )

    def of_arch(self, arch: Arch) -> OrderForm:
        """Return the part of a pair's order that concerns one arch.

        What the other arch is worked on with is this one's opposing arch when no other came.
        """
        others = [item for item in self.found("working") if item.arch not in ("", arch)]
        items = [item for item in self.items if item.arch in ("", arch)]
        if others and not any(item.kind == "opposing" for item in items):
            items += [replace(item, kind="opposing", arch=arch) for item in others]
        return replace(
            self,
            arch=arch,
            replaces=tuple(tooth for tooth in self.replaces if arch_of(tooth) == arch),
            extractions=tuple(e for e in self.extractions if arch_of(e.tooth) == arch),
            items=tuple(items),
        )

    def work_order(self) -> WorkOrder:
        """Return the facts that shape the route, for an order of one arch without errors.

        What was not said stands as: borders at full depth, all outer surfaces polished, bite
        by hand, no try-in. The questions asked meanwhile hold the stages it matters to.
        """
        shown = self.found("working") + self.found("opposing")
        poured = [item for item in shown if item.form != "scan"]
        impressions = [item for item in shown if item.is_impression]
        return WorkOrder(
            kind=cast(RouteKind, self.kind),
            impressions_came=bool(impressions),
            scan=any(item.form == "scan" for item in self.found("working")),
            casts=len(poured) if poured else len(shown),
            opposing=bool(self.found("opposing")),
            disinfection_proven=self.disinfection.proven,
            bite=cast(Bite, self.bite or "by-hand"),
            try_in=bool(self.try_in),
            borders=cast(Borders, self.borders or "left-full"),
            polish=cast(Polish, self.polish or "all-outer"),
            remake_start=cast(RemakeStart, self.remake_start),
            alginate=any(item.material in ("", *ALGINATES) for item in impressions),
            pour_limit_minutes=_shortest_limit(impressions),
        )

    def to_json(self) -> dict[str, Any]:
        """Return the order as JSON primitives: instants and days in ISO 8601."""
        plain = _plain(vars(self))
        return cast(dict[str, Any], plain)

    @classmethod
    def from_json(cls, data: dict[str, Any]) -> OrderForm:
        """Build an order from what ``to_json`` returned.

        Fields added since it was stored keep their defaults.

        Raises
        ------
        ValueError, TypeError
            When a date cannot be read, or a field is not one of an order.
        """
        values = dict(data)
        values["replaces"] = tuple(values.get("replaces", ()))
        values["allergies"] = tuple(values.get("allergies", ()))
        values["extractions"] = tuple(Extraction(**e) for e in values.get("extractions", ()))
        values["items"] = tuple(
            Item(**_dates(item, days=("expected_on",), instants=("taken_at",)))
            for item in values.get("items", ())
        )
        values["disinfection"] = Disinfection(
            **_dates(values.get("disinfection", {}), instants=("at",))
        )
        values = _dates(
            values, days=("ordered_on", "appointment_on", "needed_on"), instants=("received_at",)
        )
        if values.get("appointment_time"):
            values["appointment_time"] = time.fromisoformat(values["appointment_time"])
        return cls(**values)


def _shortest_limit(impressions: list[Item]) -> int | None:
    """Return the shortest pour limit in minutes; None as soon as one is not known."""
    limits = [
        pour_limit_minutes(item.material, item.pour_limit_minutes) if item.material else None
        for item in impressions
    ]
    known = [limit for limit in limits if limit is not None]
    return min(known) if known and len(known) == len(limits) else None


def _plain(value: Any) -> Any:
    """Turn dataclasses, tuples and dates into JSON primitives."""
    if isinstance(value, dict):
        return {key: _plain(entry) for key, entry in value.items()}
    if isinstance(value, tuple):
        return [_plain(entry) for entry in value]
    if isinstance(value, Item | Disinfection | Extraction):
        return _plain(vars(value))
    if isinstance(value, date | time):  # a datetime is a date
        return value.isoformat()
    return value


def _dates(
    data: dict[str, Any], *, days: tuple[str, ...] = (), instants: tuple[str, ...] = ()
) -> dict[str, Any]:
    read = dict(data)
    for name in days:
        if read.get(name):
            read[name] = date.fromisoformat(read[name])
    for name in instants:
        if read.get(name):
            read[name] = datetime.fromisoformat(read[name])
    return read
