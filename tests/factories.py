"""A small lab for tests, valid by default. Everything is written under submissions, so that
``verify_record`` must always agree with what a test leaves behind."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from typing import Any

from django.contrib.auth.hashers import make_password
from django.contrib.auth.models import User

from cases.domain.check_spec import COUNTED
from cases.domain.order import Disinfection, Item, OrderForm
from cases.domain.route import default_template
from cases.models import (
    Bath,
    Case,
    CaseStage,
    Dentist,
    DentistAt,
    Lab,
    OpenHours,
    Person,
    PersonSkill,
    Practice,
    PracticeMember,
    RouteVersion,
    Shift,
    Skill,
    Station,
    Tablet,
    Thing,
)
from cases.services.check import enter_checks
from cases.services.design import set_design
from cases.services.log_case import log_case
from cases.services.record import Envelope, Outcome, Recorder, perform
from cases.services.stage import finish_stage, start_stage
from cases.views.visitor import token_hash

NOW = datetime(2026, 12, 9, 9, 42, tzinfo=UTC)
"""A Wednesday morning, 10:42 on the lab's wall."""
TABLET_TOKEN = "tablet-token-for-tests"
PIN = "2468"


def rows(make: Callable[[Recorder], dict[str, Any]], now: datetime = NOW) -> dict[str, Any]:
    """Run ``make`` under a submission of its own; returns what it returned."""
    made: dict[str, Any] = {}

    def run(record: Recorder) -> dict[str, Any]:
        record.event("test.made")
        made.update(make(record))
        return {}

    perform("test.make", None, Envelope("command", now), {}, run)
    return made


@dataclass
class Shop:
    """The lab of a test and the people in it."""

    lab: Lab
    practice: Practice
    other_practice: Practice
    dentist: Dentist
    people: dict[str, Person] = field(default_factory=dict)

    def envelope(self, who: str = "mara", *, now: datetime = NOW, door: str = "web") -> Envelope:
        """Return a fresh envelope of a person, by name."""
        return Envelope(door, now, person_id=self.people[who].pk)


def make_person(
    record: Recorder, name: str, *, skills: list[Skill] | None = None, **roles: Any
) -> Person:
    """Create a person with a user of the same name (password ``name`` + ``-pass-2026``)."""
    user = User.objects.create_user(name, password=f"{name}-pass-2026")
    person = record.create(
        Person, name=name.capitalize(), user=user, pin_hash=make_password(PIN), **roles
    )
    for skill in skills or []:
        record.create(
            PersonSkill,
            person=person,
            skill=skill,
            may_countersign=not roles.get("is_student", False),
        )
    if roles.get("is_technician"):
        for weekday in range(5):
            record.create(Shift, person=person, weekday=weekday, begins=time(8), ends=time(17))
    return person


def make_shop(now: datetime = NOW) -> Shop:
    """Create the lab: two technicians with every skill (mara, oren), a student (teo), the
    desk (noor), a manager (pavo), a dentist (lind) and a receptionist (remy) of one practice,
    and a dentist of another (vega)."""
    template = default_template()

    def make(record: Recorder) -> dict[str, Any]:
        lab = record.create(Lab, name="Test bench", zone="Europe/Vienna", set_up_at=now)
        for weekday in range(5):
            record.create(OpenHours, weekday=weekday, opens=time(8), closes=time(17))
        skills = [
            record.create(Skill, key=key, name=key.capitalize())
            for key in sorted({stage.skill for stage in template.stages if stage.skill})
        ]
        for key in sorted({stage.station for stage in template.stages if stage.station}):
            record.create(Station, key=key.replace(" ", "-"), name=key.capitalize(), count=4)
        record.create(Bath, name="Bath 1", capacity=6)
        for kind, count in (("flask", 8), ("articulator", 4), ("clamp", 4)):
            for n in range(1, count + 1):
                record.create(Thing, kind=kind, label=str(n))
        record.create(RouteVersion, version=1, document=template.to_json(), saved_at=now)
        van = {"ship_weekdays": [0, 1, 2, 3, 4], "transit_days": 1, "cut_off": time(16)}
        practice = record.create(Practice, name="Practice at the quay", code="Q", **van)
        other = record.create(Practice, name="Upper Town", code="UT", **van)
        people = {
            "mara": make_person(record, "mara", skills=skills, is_technician=True),
            "oren": make_person(record, "oren", skills=skills, is_technician=True),
            "teo": make_person(record, "teo", skills=skills, is_technician=True, is_student=True),
            "noor": make_person(record, "noor", is_desk=True),
            "pavo": make_person(record, "pavo", is_manager=True),
            "lind": make_person(record, "lind", is_dentist=True),
            "remy": make_person(record, "remy", is_reception=True),
            "vega": make_person(record, "vega", is_dentist=True),
        }
        dentist = record.create(Dentist, name="Dr Lind", person=people["lind"])
        record.create(DentistAt, dentist=dentist, practice=practice)
        record.create(PracticeMember, person=people["lind"], practice=practice)
        record.create(PracticeMember, person=people["remy"], practice=practice)
        vega = record.create(Dentist, name="Dr Vega", person=people["vega"])
        record.create(DentistAt, dentist=vega, practice=other)
        record.create(PracticeMember, person=people["vega"], practice=other)
        record.create(
            Tablet,
            name="Bench 3",
            token_hash=token_hash(TABLET_TOKEN),
            enrolled_by=people["pavo"],
            enrolled_at=now,
        )
        return {
            "lab": lab,
            "practice": practice,
            "other": other,
            "dentist": dentist,
            "people": people,
        }

    made = rows(make, now)
    return Shop(made["lab"], made["practice"], made["other"], made["dentist"], made["people"])


def make_order(now: datetime = NOW, **changes: Any) -> OrderForm:
    """Return a complete order for a lower free-end piece; nothing is missing from it."""
    order = OrderForm(
        kind="new",
        arch="lower",
        description="Interim partial denture",
        replaces=(36, 37, 46, 47),
        shade_how="laboratory",
        mould_how="laboratory",
        materials="Heat-cured acrylic, wrought wire",
        borders="left-full",
        polish="all-outer",
        bite="by-hand",
        try_in=False,
        allergies=("none-known",),
        ordered_on=date(2026, 12, 8),
        appointment_on=date(2026, 12, 23),
        received_at=now,
        items=(
            Item(
                "working",
                "impression",
                material="alginate",
                taken_at=now - timedelta(minutes=5),
                tray="stock",
            ),
            Item(
                "opposing",
                "impression",
                material="alginate",
                taken_at=now - timedelta(minutes=5),
                tray="stock",
            ),
        ),
        disinfection=Disinfection("yes", "practice", "hospital disinfectant", 10),
        dentist_named=True,
        signed=True,
        licence_given=True,
    )
    return dataclasses.replace(order, **changes)


def log(shop: Shop, *, now: datetime = NOW, ref: str = "Q-1180", **changes: Any) -> Outcome:
    """Log an order through the service; ``changes`` are entries of the order."""
    return log_case(
        shop.envelope("noor", now=now),
        practice=shop.practice.pk,
        dentist=shop.dentist.pk,
        patient_ref=ref,
        order=make_order(now, **changes).to_json(),
    )


def make_case(shop: Shop, *, now: datetime = NOW, ref: str = "Q-1180", **changes: Any) -> Case:
    """Return a newly logged case (the first, of a pair)."""
    return Case.objects.get(pk=log(shop, now=now, ref=ref, **changes).result["cases"][0])


DESIGN: dict[str, Any] = {
    "missing": [36, 37, 46, 47],
    "replaced": [36, 37, 46, 47],
    "extracted": [],
    "clasps": [
        {
            "tooth": 35, "wire_mm": 0.9, "undercut_mm": 0.25, "free_arm_mm": 10.0,
            "tip": "mesial", "bracing": "plate", "bracing_mm": 1.0, "braces_first": True,
        },
        {
            "tooth": 45, "wire_mm": 0.9, "undercut_mm": 0.25, "free_arm_mm": 10.0,
            "tip": "mesial", "bracing": "plate", "bracing_mm": 1.0, "braces_first": True,
        },
    ],
    "survey": {
        "tilt_deg": 0.0, "tilt_to": "", "marked": True,
        "undercuts": [
            {"tooth": tooth, "side": side, "step_mm": step}
            for tooth in (45, 35)
            for side, step in (("distal", 0.25), ("buccal", 0.25), ("lingual", 0.0))
        ],
    },
    "rests": [],
    "bar": True,
    "joints": 0,
    "blocked": [[35, "distal"]],
    "method": "plaster",
    "covered": [["right pad", "whole"], ["left pad", "whole"]],
    "needs_agreement": False,
}  # fmt: skip


def clasped_in_front() -> dict[str, Any]:
    """Return the design with its clasp on 43, a front tooth, instead of 45."""
    faces = [{**face, "tooth": 43} for face in DESIGN["survey"]["undercuts"] if face["tooth"] == 45]
    return {
        **DESIGN,
        "clasps": [DESIGN["clasps"][0], {**DESIGN["clasps"][1], "tooth": 43}],
        "survey": {
            **DESIGN["survey"], "undercuts": [*DESIGN["survey"]["undercuts"], *faces],
        },
    }  # fmt: skip


# A mix as makers ask for it: of 5 g to 5 ml the heat estimate would know nothing.
WEIGHED = {"powder": 22.0, "liquid": 10.0}


def answers(stage: CaseStage) -> list[dict[str, Any]]:
    """Return entries that make every check of a stage pass: yes, and a number inside limits."""
    entries = []
    for item in stage.checks.exclude(state="dropped"):
        values = {}
        for measure in item.spec["measures"]:
            low, high = measure.get("low"), measure.get("high")
            if low is not None and high is not None:
                values[measure["key"]] = (low + high) / 2
            elif low is not None:
                values[measure["key"]] = low + (1 if measure["key"] in COUNTED else 0.5)
            elif high is not None:
                values[measure["key"]] = high
            else:
                values[measure["key"]] = WEIGHED.get(measure["key"], 5.0)
        told = {one["key"]: (one["choices"] or ["Test wash"])[0] for one in item.spec["told"]}
        entries.append({"item": item.pk, "yes": True, "values": values, "words": told})
    return entries


__all__ = [
    "DESIGN", "NOW", "PIN", "TABLET_TOKEN", "Shop", "answers", "clasped_in_front", "enter_checks",
    "finish_stage", "log", "make_case", "make_order", "make_person", "make_shop", "rows",
    "set_design", "start_stage",
]  # fmt: skip
