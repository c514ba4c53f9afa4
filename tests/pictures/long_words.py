"""The longest words that people may type, where a lab has them."""

from __future__ import annotations

import dataclasses
from typing import Any

from django.db.models import Model

from cases.domain.route import default_template
from cases.models import (
    Absence,
    Bath,
    ClosedDay,
    PickUp,
    RouteVersion,
    Skill,
    Station,
    Tablet,
    Thing,
)
from cases.services.record import Recorder
from tests.factories import Shop, rows

LONG = "Gemeinschaftspraxis für Zahnheilkunde an der Alten Schiffswerft und am Oberen Stadtgraben"
"""Words of no more than 22 letters: what a lab in Vienna types, not what nobody can read."""

PEOPLE = {
    "mara": "Maximiliane-Theodora von und zu Hohenfeldkirchen",
    "oren": "Konstantin-Amadeus Oberwasserlechner-Falkenried",
    "teo": "Theophil-Sebastian Lammermoor-Hinterstoisser",
    "noor": "Eleonora-Friederike Quastenberg-Zwischenbrücken",
    "pavo": "Hieronymus-Balthasar Zirbenthal-Obergurgl",
    "lind": "Univ.-Prof. DDr. Lindhardt-Oberwasserlechner",
    "remy": "Remigius-Christophorus Empfangsleitner-Althaus",
}


def lengthen_route(shop: Shop) -> None:
    """Give some stages and a check of the route the longest names; for the cases to come."""
    template = default_template()
    stages = [
        dataclasses.replace(stage, name=_of(80, stage.name))
        if stage.key in {"survey", "block-out", "wax", "wax-pass", "pour"}
        else stage
        for stage in template.stages
    ]
    template = dataclasses.replace(template, stages=tuple(stages))
    version = RouteVersion.objects.get()
    rows(lambda record: {"route": record.change(version, document=template.to_json())})


def lengthen(shop: Shop) -> None:
    """Give people, practices and things the longest names that their columns hold."""
    rows(lambda record: _lengthen(record, shop))


def _of(length: int, before: str = "") -> str:
    return f"{before} {LONG} {LONG} {LONG}".strip()[:length].strip()


def _lengthen(record: Recorder, shop: Shop) -> dict[str, Any]:
    record.change(shop.lab, name="Laboratorium für herausnehmbaren Zahnersatz an der Alten Mühle")
    record.change(
        shop.practice, name=_of(80), address=_of(200), phone="+43 660 000 000 000, after nine",
        van_route=_of(40),
    )  # fmt: skip
    record.change(shop.dentist, name="Univ.-Prof. DDr. Lindhardt-Oberwasserlechner")
    for who, name in PEOPLE.items():
        record.change(shop.people[who], name=name)
    for model, column, length in (
        (Skill, "name", 60), (Station, "name", 60), (Bath, "name", 40), (Tablet, "name", 40),
        (ClosedDay, "words", 80), (Absence, "words", 80), (PickUp, "words", 120),
    ):  # fmt: skip
        _change_first(record, model, column, length)
    for thing in Thing.objects.filter(kind="cast"):
        record.change(thing, place=_of(60))
    for thing in Thing.objects.filter(kind="flask")[:1]:
        record.change(thing, label=_of(40), place=_of(60))
    return {}


def _change_first(record: Recorder, model: type[Model], column: str, length: int) -> None:
    row = model._default_manager.order_by("pk").first()
    if row is not None:
        record.change(row, **{column: _of(length, "1")})
