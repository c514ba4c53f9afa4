"""Write an order down as the desk does, and draw its design as the surveyor does."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from typing import Any, cast

from cases.demo.shop import Shop
from cases.demo.surveyed import surveyed
from cases.demo.wishes import Wish
from cases.domain import teeth
from cases.domain.design import Arch, Design
from cases.domain.design_rules import expected_design
from cases.domain.order import Disinfection, Extraction, Item, OrderForm

PRODUCT_LIMIT_MIN = 5 * 24 * 60
"""Pour limit that the invented long-storage alginate bears on its packet, minutes."""

TASKS = {
    "adjustment": (
        "Rocks on 35 and 45; ease and polish again.",
        "Presses the gum line behind 36. Relieve it.",
        "Clasp on 24 too tight. Ease it.",
    ),
    "repair": (
        "Clasp arm broken off. New clasp, please.",
        "Base cracked through the middle. Mend and strengthen.",
        "Front tooth came out. Set it again.",
    ),
    "addition": ("Add the tooth extracted last month.",),
}

CLASP_WIRES = {
    "molar": (1.0, 0.50, 13.0),
    "premolar": (0.9, 0.25, 10.0),
    "canine": (0.8, 0.25, 9.0),
}
"""Wire, undercut and free arm in mm by tooth. Judgement, for the demo only."""


def order_of(shop: Shop, wish: Wish, now: datetime) -> OrderForm:
    """Return the order as the prescription bears it."""
    rng = shop.rng
    day = shop.day(now)
    said = TASKS.get(wish.kind)
    ship = wish.ship_on or day
    silent = "silent" in wish.flags
    wish.appointment = _weekday(ship + timedelta(days=wish.place.transit_days + rng.randint(1, 4)))
    return OrderForm(
        kind=wish.kind,
        arch=wish.arch,
        description=rng.choice(said) if said else "Interim partial denture, heat-cured acrylic.",
        replaces=tuple(sorted(set(wish.teeth) - set(wish.extracted)))
        if wish.kind != "new"
        else wish.teeth,
        extractions=tuple(Extraction(tooth, "1mm") for tooth in wish.extracted),
        extraction_order=bool(wish.extracted) and "no-order" not in wish.flags,
        shade_how="" if silent else rng.choice(("laboratory", "old-piece", "photograph")),
        mould_how="laboratory",
        materials="Heat-cured acrylic, hard stainless wire",
        borders=wish.borders,
        polish=wish.polish,
        bite=wish.bite,
        try_in=wish.try_in,
        allergies=("none-known",),
        ordered_on=day - timedelta(days=rng.randint(0, 1)),
        appointment_on=wish.appointment,
        appointment_time=time(rng.randint(8, 16), rng.choice((0, 15, 30, 45))),
        rush=wish.rush,
        received_at=now,
        items=_items(shop, wish, now),
        disinfection=Disinfection("yes", "practice", "hospital disinfectant, label 10 min", 10)
        if wish.proven
        else Disinfection("no"),
        dentist_named=True,
        signed="unsigned" not in wish.flags,
        licence_given=True,
    )


def _weekday(day: date) -> date:
    while day.weekday() > 4:
        day += timedelta(days=1)
    return day


def _items(shop: Shop, wish: Wish, now: datetime) -> tuple[Item, ...]:
    if wish.kind == "adjustment":
        return (Item("old-piece"),)
    taken = now - timedelta(minutes=shop.rng.randint(90, 300))
    if wish.material == "alginate":
        taken = now - timedelta(minutes=2)

    def arch_item(kind: str, arch: str = "") -> Item:
        impression = wish.form == "impression"
        limit = PRODUCT_LIMIT_MIN if wish.material == "long-alginate" else None
        return Item(
            kind,
            wish.form,
            arch=arch,
            material=wish.material if impression else "",
            pour_limit_minutes=limit if impression else None,
            taken_at=taken if impression else None,
            tray="stock" if impression else "",
        )

    if wish.kind in ("repair", "addition"):
        return (arch_item("working"), Item("old-piece"))
    items = (
        [arch_item("working", "upper"), arch_item("working", "lower")]
        if wish.arch == "both"
        else [arch_item("working"), arch_item("opposing")]
    )
    if wish.bite == "record":
        items.append(Item("bite"))
    if "follows" in wish.flags:
        later = shop.day(now) + timedelta(days=2)
        items.append(Item("shade-tab", follows_later=True, expected_on=later))
    return tuple(items)


def design_of(
    wish: Wish, arch: str, drawn: dict[str, Any], *, did_not_seat: bool = False
) -> dict[str, Any]:
    """Return what the surveyor draws: the expected design with wires, block-out and extras.

    ``did_not_seat``: as ``surveyed`` has it.
    """
    mine = {tooth for tooth in wish.teeth if teeth.arch_of(tooth) == arch}
    extracted = frozenset(tooth for tooth in wish.extracted if tooth in mine)
    base = expected_design(cast(Arch, arch), mine, mine, extracted=extracted, bar=wish.bar)
    data = base.to_json() if mine else dict(drawn)
    data["clasps"] = [_clasp(int(clasp["tooth"])) for clasp in data["clasps"]]
    data["bar"] = wish.bar
    data["joints"] = wish.joints if data["clasps"] else 0
    data["method"] = wish.method
    data["copy_in"] = "silicone"
    data["needs_agreement"] = wish.agree or bool(extracted)
    if wish.method == "none":
        data["blocked"] = []
    elif not data["blocked"] and data["clasps"]:
        data["blocked"] = [[data["clasps"][0]["tooth"], "lingual"]]
    gone = set(data["missing"])
    clasped = {clasp["tooth"] for clasp in data["clasps"]}
    free = [t for t in teeth.teeth_of_arch(cast(Arch, arch)) if t not in gone | clasped]
    premolars = [tooth for tooth in free if teeth.kind(tooth) == "premolar"]
    data["rests"] = premolars[:1] if wish.rests else []
    whole = Design.from_json({**data, "provisional": False})
    return surveyed(whole, wish, did_not_seat=did_not_seat).to_json()


def _clasp(tooth: int) -> dict[str, Any]:
    wire, undercut, arm = CLASP_WIRES[teeth.kind(tooth)]
    return {"tooth": tooth, "wire_mm": wire, "undercut_mm": undercut, "free_arm_mm": arm}
