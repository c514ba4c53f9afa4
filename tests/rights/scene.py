"""Two practices with cases in every state, and strings planted where only the lab may look."""

from __future__ import annotations

import io
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

from PIL import Image

from cases.domain.order import Item
from cases.models import Case, CaseStage, CheckItem, File, Shipment
from cases.services.check import concede, enter_checks
from cases.services.close_case import report_mishap, write_note
from cases.services.dispatch import mark_sent, pack
from cases.services.files import attach_file, take_in
from cases.services.hold import ask_practice, hold_case, withdraw_question
from cases.services.papers import keep_paper, store_pdf
from cases.services.promise import promise_day
from cases.services.record import Envelope, Recorder
from cases.services.send_back import send_back
from cases.services.stage import start_stage
from cases.services.things import put_thing
from tests.factories import NOW, Shop, answers, log, make_case, rows
from tests.walk import Clock, add_photos, walk

STAFF = {"mara": "Mara Wachsmuth", "oren": "Oren Falkenried", "teo": "Teo Lammermoor",
         "noor": "Noor Quastenberg", "pavo": "Pavo Zirbenthal"}  # fmt: skip

PLANTED = {
    "internal note": "kestrel said among ourselves",
    "concession": "heron concession words",
    "hold": "bittern hold words",
    "mishap": "curlew mishap words",
    "send-back": "dunlin send-back words",
    "promise": "plover promise reason",
    "withdrawn": "ruff withdrawal words",
    "place": "godwit shelf",
    "photograph": "sanderling inside photograph",
}
"""Written by the lab for the lab; none of it may reach a practice."""

OTHER = {
    "reference": "UT-7741",
    "note": "whimbrel note to the other practice",
    "photograph": "turnstone photograph for the other practice",
}
"""Meant for the other practice only."""


@dataclass
class Scene:
    """The cases, and what else an address may name."""

    shop: Shop
    now: datetime = NOW
    cases: dict[str, Case] = field(default_factory=dict)
    files: dict[str, File] = field(default_factory=dict)
    box: Shipment | None = None

    def by(self, who: str) -> Envelope:
        """Return a fresh envelope of a person at the scene's instant."""
        return self.shop.envelope(who, now=self.now)

    def case(self, name: str) -> Case:
        """Return a case as it now stands."""
        self.cases[name].refresh_from_db()
        return self.cases[name]


def picture() -> io.BytesIO:
    """Return a small photograph as it would be uploaded."""
    out = io.BytesIO()
    Image.new("RGB", (80, 60), "#c8b9a0").save(out, "JPEG")
    out.seek(0)
    return out


def _name_people(shop: Shop, now: datetime) -> None:
    def make(record: Recorder) -> dict[str, Any]:
        for key, name in STAFF.items():
            record.change(shop.people[key], name=name)
        record.change(shop.other_practice, name="Upper Town Teeth")
        return {}

    rows(make, now)


def photograph(scene: Scene, case: Case, words: str, *, visible: bool) -> File:
    """Attach a photograph to a case."""
    stored = take_in(picture())[0]
    made = attach_file(
        scene.by("noor"), case=case.pk, kind="photo", stored=vars(stored), words=words,
        visible_to_practice=visible,
    )  # fmt: skip
    return File.objects.get(pk=made.result["file"])


def fail_and_concede(shop: Shop, stage: CaseStage, clock: Clock) -> None:
    """Fail the first yes-or-no check of a running stage and let a colleague accept it."""
    item = next(one for one in stage.checks.all() if one.spec["yes_no"])
    entry = {**next(e for e in answers(stage) if e["item"] == item.pk), "yes": False}
    enter_checks(
        shop.envelope("mara", now=clock.now), stage=stage.pk, version=stage.version, checks=[entry]
    )
    stage.refresh_from_db()
    concede(
        shop.envelope("oren", now=clock.now), item=item.pk, version=stage.version,
        reason="short-wear", words=PLANTED["concession"],
    )  # fmt: skip


def _order(now: datetime, **changes: Any) -> dict[str, Any]:
    """Return what an order of the day before says, for an appointment in two weeks."""
    day = now.date()
    dates = {"ordered_on": day - timedelta(days=1), "appointment_on": day + timedelta(days=14)}
    return {**dates, **changes}


def _at_the_bench(scene: Scene) -> Case:
    """A case at the survey: conceded check, mishap, notes, photographs, moved promise."""
    shop, clock = scene.shop, Clock(scene.now - timedelta(hours=5))
    case = make_case(shop, now=clock.now, ref="Q-1201", **_order(clock.now))
    walk(shop, case, clock, until="trim")
    stage = case.stages.get(key="survey")
    start_stage(shop.envelope("mara", now=clock.now), stage=stage.pk, version=stage.version)
    stage.refresh_from_db()
    add_photos(shop, stage, clock.now, "mara")
    fail_and_concede(shop, stage, clock)
    stage.refresh_from_db()
    report_mishap(
        shop.envelope("mara", now=clock.now), stage=stage.pk, version=stage.version,
        words=PLANTED["mishap"],
    )  # fmt: skip
    write_note(shop.envelope("mara", now=clock.now), case=case.pk, text=PLANTED["internal note"])
    write_note(
        shop.envelope("noor", now=clock.now), case=case.pk, visible_to_practice=True,
        text="The cast shows everything we need.",
    )  # fmt: skip
    cast = case.things.first()
    assert cast is not None
    put_thing(shop.envelope("mara", now=clock.now), thing=cast.pk, place=PLANTED["place"])
    case.refresh_from_db()
    promise_day(
        shop.envelope("noor", now=clock.now), case=case.pk, version=case.version,
        ship_on=(clock.now + timedelta(days=13)).date().isoformat(), reason=PLANTED["promise"],
    )  # fmt: skip
    scene.files["inside"] = photograph(scene, case, PLANTED["photograph"], visible=False)
    scene.files["shown"] = photograph(scene, case, "The prepared cast", visible=True)
    return case


def _asked(scene: Scene) -> Case:
    """A case with a question that reception may answer, one for the dentist, one withdrawn."""
    shop = scene.shop
    case = make_case(shop, now=scene.now, ref="Q-1202", **_order(scene.now, shade_how=""))
    ask_practice(scene.by("mara"), case=case.pk, number=10, subject={"tooth": "35"})
    made = ask_practice(scene.by("mara"), case=case.pk, words="Is the old piece lost?")
    withdraw_question(
        scene.by("mara"),
        question=made.result["question"],
        words=PLANTED["withdrawn"],
    )
    return case


def _held(scene: Scene) -> Case:
    shop, clock = scene.shop, Clock(scene.now - timedelta(hours=5))
    case = make_case(shop, now=clock.now, ref="Q-1203", **_order(clock.now))
    walk(shop, case, clock, until="trim")
    case.refresh_from_db()
    stage = case.stages.get(key="trim")
    send_back(
        shop.envelope("mara", now=clock.now), stage=stage.pk, version=stage.version, to="trim",
        reason="cast-damaged", words=PLANTED["send-back"],
    )  # fmt: skip
    case.refresh_from_db()
    hold_case(
        shop.envelope("noor", now=clock.now), case=case.pk, version=case.version,
        reason="person-away", waits_for="laboratory", words=PLANTED["hold"],
    )  # fmt: skip
    return case


def sent_case(scene: Scene) -> Case:
    """An adjustment (the shortest route) that left two weeks ago, with its delivery note."""
    shop = scene.shop
    clock = Clock(scene.now - timedelta(days=14))
    order = _order(
        clock.now, kind="adjustment", description="Sore spot, lower right",
        items=(Item("old-piece"),), replaces=(), shade_how="", mould_how="", bite="",
    )  # fmt: skip
    case = make_case(shop, now=clock.now, ref="Q-1199", **order)
    walk(shop, case, clock, until="soak")
    clock.now += timedelta(days=1)
    case.refresh_from_db()
    stage = case.stages.get(key="pack-out")
    made = pack(
        shop.envelope("noor", now=clock.now), practice=shop.practice.pk,
        cases=[{"case": case.pk, "checks": answers(stage)}],
        ship_on=clock.now.date().isoformat(),
    )  # fmt: skip
    scene.box = Shipment.objects.get(pk=made.result["shipment"])
    keep_paper(
        shop.envelope("noor", now=clock.now), kind="note", number=made.result["number"],
        stored=vars(store_pdf(b"%PDF-1.4 the note as it was printed")), shipment=scene.box.pk,
    )  # fmt: skip
    clock.now += timedelta(minutes=30)
    mark_sent(shop.envelope("noor", now=clock.now), shipment=scene.box.pk)
    case.refresh_from_db()
    return case


def _of_the_other_practice(scene: Scene) -> Case:
    shop = scene.shop
    vega = shop.people["vega"].dentist
    case_shop = Shop(shop.lab, shop.other_practice, shop.practice, vega, shop.people)
    logged = log(case_shop, now=scene.now, ref=OTHER["reference"], **_order(scene.now))
    case = Case.objects.get(pk=logged.result["cases"][0])
    write_note(
        scene.by("noor"),
        case=case.pk,
        text=OTHER["note"],
        visible_to_practice=True,
    )
    ask_practice(scene.by("mara"), case=case.pk, number=10, subject={"tooth": "45"})
    scene.files["other"] = photograph(scene, case, OTHER["photograph"], visible=True)
    return case


def make_scene(shop: Shop, now: datetime = NOW) -> Scene:
    """Fill a shop with one case of each kind; everything by the services."""
    scene = Scene(shop, now)
    _name_people(shop, now)
    scene.cases["bench"] = _at_the_bench(scene)
    scene.cases["asked"] = _asked(scene)
    scene.cases["held"] = _held(scene)
    scene.cases["sent"] = sent_case(scene)
    scene.cases["other"] = _of_the_other_practice(scene)
    return scene


def lab_only(scene: Scene) -> dict[str, str]:
    """Return every string that no practice may read, by what it is."""
    found = {**PLANTED, **{f"name of {key}": name for key, name in STAFF.items()}}
    for item in CheckItem.objects.filter(case__practice=scene.shop.practice):
        found[f"check {item.key}"] = item.spec["words"]
        if item.sentence:
            found[f"sentence of {item.key}"] = item.sentence
    return found


def of_others(scene: Scene) -> dict[str, str]:
    """Return every string that only the other practice may read."""
    other = scene.cases["other"]
    return {
        **OTHER,
        "number": other.number,
        "practice": scene.shop.other_practice.name,
        "dentist": "Dr Vega",
    }


__all__ = ["OTHER", "PLANTED", "STAFF", "Scene", "lab_only", "make_scene", "of_others", "sent_case"]
