"""Pack cases into boxes, take them out again, hand boxes to the carrier, and note pick-ups."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from typing import Any

from django.utils.timezone import localtime
from django.utils.translation import gettext as _

from cases.domain.soak import soak_words
from cases.models import Case, CaseStage, PickUp, Practice, Received, Shipment, ShipmentCase, Thing
from cases.selectors.dispatch import IN_BOX, LAST
from cases.selectors.hours import lab_calendar
from cases.services import things
from cases.services.access import lock_case, lock_open_case, refuse_held
from cases.services.numbering import next_in
from cases.services.progress import ENDED, refresh
from cases.services.record import Recorder, Refusal, verb
from cases.services.send_back import reopen
from cases.services.stage import begin, end, resume_stage, skip_stage

GONE = frozenset({"sent", "cancelled"})


def _stages(case: Case) -> dict[str, CaseStage]:
    rows = case.stages.select_for_update(of=("self",)).exclude(state="dropped")
    found = {row.key: row for row in rows}
    for row in found.values():
        row.case = case
    return found


def _day(text: str, record: Recorder, field: str) -> date:
    """Read a day that is not over yet."""
    try:
        day = date.fromisoformat(text)
    except ValueError:
        raise Refusal("no-day", _("Enter the day."), field=field) from None
    if day < lab_calendar().local_day(record.now):
        raise Refusal("past-day", _("That day is over. Enter today or a later day."), field=field)
    return day


def _box_number(record: Recorder) -> str:
    year = lab_calendar().local_day(record.now).year % 100
    return f"D{year:02d}-{next_in(f'delivery-{year:02d}'):04d}"


@verb("shipment.pack", may="dispatch")
def pack(
    record: Recorder,
    *,
    practice: int,
    cases: list[dict[str, Any]],
    ship_on: str,
    shipment: int | None = None,
) -> dict[str, Any]:
    """Pack inspected cases of one practice into a box.

    Parameters
    ----------
    cases
        One a case: ``{"case": pk, "checks": [...], "alone": "", "soak": "", "received": [pk],
        "casts": [pk]}``. ``checks`` are entries as ``stage.finish`` takes them, ``alone`` says
        why its pair is not in the box, ``soak`` why it lay in water for less than usual,
        ``received`` and ``casts`` what goes back to the practice with it.
    ship_on
        ISO day on which the box leaves.
    shipment
        A box of this practice that is packed but not sent, to put more into; None: a new one.

    Returns
    -------
    dict
        ``shipment``: primary key, ``number``: of the box and its delivery note.

    Raises
    ------
    Refusal
        ``nothing-chosen``, ``not-inspected``, ``packed-already``, ``other-practice``,
        ``check-open``, ``soak-short``, ``twin-alone``, ``on-hold``, ``past-day``; the sentence
        names the case.
    """
    at = Practice.objects.filter(pk=practice).first()
    if at is None:
        raise Refusal("no-practice", _("Choose the practice."))
    if not cases:
        raise Refusal("nothing-chosen", _("Choose at least one case to pack."), field="cases")
    day = _day(ship_on, record, "ship_on")
    wanted = sorted(cases, key=lambda entry: int(entry["case"]))
    rows = [(lock_open_case(int(entry["case"])), entry) for entry in wanted]
    box = _box(record, at, day, shipment)
    for case, entry in rows:
        _refuse_unpackable(case, at)
        _pack_one(record, case, box, entry)
    _refuse_parted(box)
    return {"shipment": box.pk, "number": box.number}


def _box(record: Recorder, practice: Practice, day: date, shipment: int | None) -> Shipment:
    if shipment is None:
        number = _box_number(record)
        record.event("shipment.opened", subject=number, practice=practice.pk)
        return record.create(
            Shipment,
            number=number,
            practice=practice,
            ship_on=day,
            packed_at=record.now,
            packed_by=record.actor,
        )
    box = Shipment.objects.select_for_update().filter(pk=shipment, practice=practice).first()
    if box is None:
        raise Refusal("no-box", _("There is no such box for this practice. Load the page again."))
    if box.sent_at is not None:
        raise Refusal("box-sent", _("That box has left already. Pack a new one."))
    record.event("shipment.added-to", subject=box.number)
    return record.change(box, ship_on=day, packed_at=record.now, packed_by=record.actor)


def _refuse_unpackable(case: Case, practice: Practice) -> None:
    if case.practice_id != practice.pk:
        raise Refusal(
            "other-practice",
            _("%(case)s belongs to another practice. Pack it into a box of its own practice.")
            % {"case": case.number},
        )
    if ShipmentCase.objects.filter(case=case).exists():
        raise Refusal("packed-already", _("%(case)s is in a box already.") % {"case": case.number})


def _pack_one(record: Recorder, case: Case, box: Shipment, entry: dict[str, Any]) -> None:
    stages = _stages(case)
    open_names = [
        stage.name for key, stage in stages.items() if key not in LAST and stage.state not in ENDED
    ]
    if open_names:
        raise Refusal(
            "not-inspected",
            _("%(case)s is not ready to pack. Still to do: %(stages)s.")
            % {"case": case.number, "stages": ", ".join(open_names)},
        )
    refuse_held(case, "pack-out")
    _soak(record, case, stages, str(entry.get("soak", "")).strip())
    _pass(record, case, stages.get("pack-out"), entry.get("checks") or [])
    record.event("case.packed", case=case, subject=box.number)
    record.create(
        ShipmentCase, shipment=box, case=case, alone_reason=str(entry.get("alone", ""))[:200]
    )
    _give_back(record, case, box, entry.get("received") or [], entry.get("casts") or [])
    record.change(case, state="packed", version=case.version + 1)
    refresh(record, case)


def _soak(record: Recorder, case: Case, stages: dict[str, CaseStage], words: str) -> None:
    """See that it lay in water, or that the paper will say why it did so for less."""
    soak, after = stages.get("soak"), stages.get("pack-out")
    if soak is None or soak.state == "skipped" or soak.words:
        return
    edge = case.edges.filter(before="soak", after="pack-out").first()
    usual = edge.min_wait if edge else 0.0
    lay = None
    if soak.state == "done" and soak.ended_at:
        until = after.started_at if after and after.started_at else record.now
        lay = (until - soak.ended_at).total_seconds() / 60
        if lay >= usual:
            return
    if not words:
        raise Refusal(
            "soak-short",
            _("%(case)s has not lain in water for the usual time. Say why it goes all the same: "
              "the delivery note will say so. Or leave it in the water.")
            % {"case": case.number},
            field="soak",
        )  # fmt: skip
    said = soak_words(lay, usual, words)[:200]
    if lay is None:
        skip_stage.inner(record, stage=soak.pk, version=soak.version, reason="no-time", words=said)
        if after is not None:
            after.refresh_from_db()
            after.case = case
        return
    record.event("soak.shortened", case=case, subject="soak", minutes=round(lay))
    record.change(soak, words=said)


def _pass(
    record: Recorder, case: Case, stage: CaseStage | None, checks: list[dict[str, Any]]
) -> None:
    """Take a last stage from wherever it stands to its end, with its checks."""
    if stage is None or stage.state in ENDED:
        return
    if stage.state == "planned":
        begin(record, case, stage, {}, None)
    elif stage.state == "paused":
        resume_stage.inner(record, stage=stage.pk, version=stage.version)
        stage.refresh_from_db()
        stage.case = case
    outcome = end(record, case, stage, checks, {})
    if not outcome["finished"]:
        items = stage.checks.filter(required=True, state__in=["open", "failed"])
        first = items.order_by("position", "pk").first()
        said = (first.sentence or first.spec["words"]) if first else ""
        raise Refusal(
            "check-open",
            _("%(case)s, %(stage)s: a check is not passed yet. %(check)s")
            % {"case": case.number, "stage": stage.name, "check": said},
            field="checks",
        )


def _give_back(
    record: Recorder, case: Case, box: Shipment, received: Iterable[int], casts: Iterable[int]
) -> None:
    """Note what goes back to the practice in the box."""
    for row in case.received.filter(pk__in=[int(pk) for pk in received], state="here"):
        record.change(row, state="back")
    for cast in case.things.filter(pk__in=[int(pk) for pk in casts], state="in-use"):
        record.change(cast, place=IN_BOX.format(number=box.number))


def _take_back(record: Recorder, case: Case, box: Shipment) -> None:
    for row in Received.objects.filter(case=case, state="back"):
        record.change(row, state="here")
    for cast in Thing.objects.filter(case=case, place=IN_BOX.format(number=box.number)):
        record.change(cast, place="")


def _refuse_parted(box: Shipment) -> None:
    """Twins go together, or the box says why not."""
    contents = list(box.contents.select_related("case__twin"))
    inside = {row.case_id for row in contents}
    for row in contents:
        twin = row.case.twin
        if twin is None or twin.pk in inside or twin.state in GONE or row.alone_reason.strip():
            continue
        raise Refusal(
            "twin-alone",
            _("%(case)s has a pair, %(twin)s, that is not in this box. Pack both together, or "
              "say why it goes alone.")
            % {"case": row.case.number, "twin": twin.number},
            field="alone",
        )  # fmt: skip


def _locked_box(shipment: int) -> tuple[Shipment, dict[int, Case]]:
    """Return a box that has not left and its cases, all locked (cases first, by key)."""
    keys = ShipmentCase.objects.filter(shipment_id=shipment).values_list("case_id", flat=True)
    cases = {key: lock_case(key) for key in sorted(keys)}
    box = Shipment.objects.select_for_update().filter(pk=shipment).first()
    if box is None:
        raise Refusal("no-box", _("There is no such box. Load the page again."))
    if box.sent_at is not None:
        raise Refusal("box-sent", _("Box %(number)s has left already.") % {"number": box.number})
    if set(box.contents.values_list("case_id", flat=True)) != set(cases):
        raise Refusal(
            "box-changed", _("The box was changed meanwhile. Look at it again, then repeat.")
        )
    return box, cases


@verb("shipment.unpack", may="dispatch")
def unpack(record: Recorder, *, shipment: int, case: int, reason: str) -> dict[str, Any]:
    """Take a case out of a box that has not left; packing it again is a new attempt.

    Raises
    ------
    Refusal
        ``no-reason``, ``not-in-box``, ``box-sent``.
    """
    box, cases = _locked_box(shipment)
    row = box.contents.filter(case_id=case).first()
    if row is None:
        raise Refusal("not-in-box", _("That case is not in this box. Load the page again."))
    if not reason.strip():
        raise Refusal("no-reason", _("Say why it is taken out."), field="reason")
    taken = cases[case]
    record.event("case.unpacked", case=taken, subject=box.number, words=reason.strip()[:200])
    record.remove(row)
    _take_back(record, taken, box)
    if taken.state == "packed":
        record.change(taken, state="open", version=taken.version + 1)
        done = [
            stage
            for key, stage in _stages(taken).items()
            if key in {"pack-out", "send"} and stage.state != "planned"
        ]
        reopen(record, taken, done, "unpacked")
        refresh(record, taken)
    left = box.contents.filter(case=taken.twin_id).first() if taken.twin_id else None
    if left is not None and not left.alone_reason:
        record.change(left, alone_reason=reason.strip()[:200])
    return {"shipment": box.pk, "case": taken.pk}


@verb("shipment.send", may="dispatch")
def mark_sent(record: Recorder, *, shipment: int, carrier_ref: str = "") -> dict[str, Any]:
    """Hand a box to the carrier: its cases leave the lab and are closed.

    Raises
    ------
    Refusal
        ``empty-box``, ``not-packed`` for a case that was sent back or cancelled meanwhile,
        ``waiting`` while the disinfectant's time runs, ``box-sent``.
    """
    box, cases = _locked_box(shipment)
    if not cases:
        raise Refusal("empty-box", _("Nothing is in this box. Pack something first."))
    for case in cases.values():
        _refuse_unsendable(case)
        stage = _stages(case).get("send")
        _refuse_wet(record, case, stage)
        _pass(record, case, stage, [])
        record.event("case.sent", case=case, subject=box.number)
        things.release_all(record, case)
        record.change(case, state="sent", closed_at=record.now, version=case.version + 1)
        refresh(record, case)
    record.event("shipment.sent", subject=box.number)
    record.change(
        box, sent_at=record.now, sent_by=record.actor, carrier_ref=carrier_ref.strip()[:60]
    )
    return {"shipment": box.pk, "cases": sorted(cases)}


def _refuse_wet(record: Recorder, case: Case, stage: CaseStage | None) -> None:
    """While the disinfectant's time runs, the box stays here."""
    if stage is None or stage.state != "planned" or stage.ready_at is None:
        return
    dry_at = stage.may_from or stage.ready_at
    if dry_at > record.now:
        raise Refusal(
            "waiting",
            _("The disinfectant's time on %(case)s runs until %(at)s. Hand the box over then.")
            % {"case": case.number, "at": f"{localtime(dry_at):%H:%M}"},
            until=dry_at,
        )


def _refuse_unsendable(case: Case) -> None:
    open_stages = case.stages.exclude(state__in=[*ENDED, "dropped"]).exclude(key="send")
    if case.state == "packed" and not open_stages.exists():
        return
    why = _("was cancelled") if case.state == "cancelled" else _("went back to work")
    raise Refusal(
        "not-packed",
        _("%(case)s %(why)s after it was packed. Take it out of the box first.")
        % {"case": case.number, "why": why},
    )


@verb("pick-up.ask", may="dispatch")
def ask_pick_up(record: Recorder, *, practice: int, day: str, words: str) -> dict[str, Any]:
    """Put something to be fetched from a practice on the van's list of a day."""
    at = Practice.objects.filter(pk=practice, active=True).first()
    if at is None:
        raise Refusal("no-practice", _("Choose the practice."), field="practice")
    on = _day(day, record, "day")
    if not words.strip():
        raise Refusal("no-words", _("Say what is to be fetched."), field="words")
    record.event("pick-up.asked", subject=at.code, day=on)
    row = record.create(
        PickUp,
        practice=at,
        day=on,
        words=words.strip()[:120],
        by=record.actor,
        asked_at=record.now,
    )
    return {"pick_up": row.pk}


@verb("pick-up.done", may="dispatch")
def pick_up_done(record: Recorder, *, pick_up: int) -> dict[str, Any]:
    """Note that something was fetched."""
    row = PickUp.objects.select_for_update().select_related("practice").filter(pk=pick_up).first()
    if row is None:
        raise Refusal("no-pick-up", _("There is no such pick-up. Load the page again."))
    if row.done_at is not None:
        raise Refusal("done", _("Somebody ticked it off already."))
    record.event("pick-up.done", subject=row.practice.code)
    record.change(row, done_at=record.now)
    return {"pick_up": row.pk}
