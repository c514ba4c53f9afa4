"""Casts, flasks, articulators and clamps: who has them, and where they are."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.utils.timezone import localtime
from django.utils.translation import gettext as _

from cases.models import Case, CaseStage, Event, Occupied, StageRun, Thing
from cases.selectors.rows import find
from cases.services.record import Recorder, Refusal, verb

WORKING, OPPOSING, MASTER = "working", "opposing", "master"
"""Labels of a case's casts: the one that is waxed on, its opposite, the one a copy was made of."""

NAMED = ("flask", "articulator", "clamp")
"""Kinds of shop things that carry an engraved number and are taken by it."""


def held(stage: CaseStage) -> list[tuple[str, str]]:
    """Return what a stage occupies as (kind, until)."""
    return [(one["thing"], one["until"]) for one in stage.spec.get("holds", ())]


def cast_free_at(case: Case, stage: CaseStage) -> None:
    """Refuse when another stage has the working cast in hand.

    Raises
    ------
    Refusal
        ``cast-in-hand`` with who has it.
    """
    if not stage.spec.get("needs_cast"):
        return
    for other in find(CaseStage, case_id=case.pk, state="running", order=("position", "id")):
        if other.pk != stage.pk and other.spec.get("needs_cast"):
            who = other.worker.name if other.worker else "somebody"
            raise Refusal(
                "cast-in-hand",
                _(
                    "The cast of %(number)s is in the hands of %(who)s (%(other)s). One cast, one "
                    "pair of hands: take another case, or wait."
                )
                % {"number": case.number, "who": who, "other": _(other.name)},
            )


def cast_setting_until(case: Case, stage: CaseStage, now: datetime) -> None:
    """Refuse while plaster sets on the working cast (mounting)."""
    if not stage.spec.get("needs_cast"):
        return
    for other in find(CaseStage, case_id=case.pk, state="done", order=("position", "id")):
        if other.pk == stage.pk or other.ended_at is None or ("cast", "wait") not in held(other):
            continue
        waits = [
            edge.min_wait if edge.least_wait is None else edge.least_wait
            for edge in case.edges.filter(before=other.key)
        ]
        until = other.ended_at + timedelta(minutes=max(waits, default=0))
        if until > now:
            raise Refusal(
                "cast-setting",
                _(
                    "The plaster on the cast of %(number)s sets until %(at)s (%(other)s). Take "
                    "another case until then."
                )
                % {
                    "number": case.number,
                    "at": f"{localtime(until):%H:%M}",
                    "other": _(other.name),
                },
                until=until,
            )


def take(record: Recorder, case: Case, stage: CaseStage, things: dict[str, str]) -> None:
    """Occupy what ``stage`` holds, by the engraved numbers given in ``things``.

    Raises
    ------
    Refusal
        ``which-thing`` when no number was given, ``no-thing`` for an unknown one,
        ``thing-in-use`` with the case that has it.
    """
    for kind, until in held(stage):
        if kind not in NAMED:
            continue
        mine = Occupied.objects.filter(case=case, thing__kind=kind, freed_at__isnull=True).first()
        if mine is not None:
            continue
        label = things.get(kind, "").strip()
        if not label:
            raise Refusal(
                "which-thing",
                _("Say which %(kind)s: enter its number.") % {"kind": _(kind)},
                field=kind,
            )
        thing = (
            Thing.objects.select_for_update()
            .filter(kind=kind, label__iexact=label, case__isnull=True)
            .exclude(state="gone")
            .first()
        )
        if thing is None:
            raise Refusal(
                "no-thing",
                _("There is no %(kind)s %(label)s in this lab. Read its number again.")
                % {"kind": _(kind), "label": label},
                field=kind,
            )
        user = thing.occupations.filter(freed_at__isnull=True).select_related("case").first()
        if user is not None:
            raise Refusal(
                "thing-in-use",
                _("%(kind)s %(label)s is taken by %(number)s. Take another one, or look into it.")
                % {"kind": _(kind).capitalize(), "label": thing.label, "number": user.case.number},
                field=kind,
            )
        record.create(
            Occupied,
            thing=thing,
            case=case,
            from_stage=stage.key,
            until_stage=stage.key if until in {"finish", "wait"} else until,
            since=record.now,
        )


def release(record: Recorder, case: Case, key: str) -> None:
    """Free what the case occupies until stage ``key``, which has just ended."""
    for row in find(Occupied, case_id=case.pk, freed_at=None, until_stage=key, order=("id",)):
        record.change(row, freed_at=record.now)


def release_all(record: Recorder, case: Case, keys: set[str] | None = None) -> None:
    """Free everything the case occupies, or only what the stages ``keys`` took."""
    for row in case.occupations.filter(freed_at__isnull=True):
        if keys is None or row.from_stage in keys:
            record.change(row, freed_at=record.now)


POURS = ("pour", "pick-up")
"""Stages that make a cast of what came in a tray."""


def _pours(case: Case) -> int:
    """Return how many times the case was poured to the end."""
    return StageRun.objects.filter(
        stage__case=case, stage__key__in=POURS, outcome="done", ended_at__isnull=False
    ).count()


def casts_from(record: Recorder, case: Case, stage: CaseStage) -> None:
    """Make the rows of the casts that ``stage``, which has just ended, brought forth.

    A cast of an earlier pour is void when it was poured anew; trimming the same cast again
    does not make another.
    """
    if stage.key == "copy-cast":
        _copied(record, case)
    if stage.key != "trim":
        return
    wanted = [WORKING]
    if case.work_order.get("opposing"):
        wanted.append(OPPOSING)
    pours = _pours(case)
    here = {}
    for cast in case.things.filter(kind="cast", state="in-use"):
        if cast.pour is not None and cast.pour < pours:
            record.change(cast, state="void")
        else:
            here[cast.label] = cast
    record.create_many(
        [
            Thing(kind="cast", label=label, case=case, pour=pours)
            for label in wanted
            if label not in here and not (label == WORKING and MASTER in here)
        ]
    )


def _copied(record: Recorder, case: Case) -> None:
    """What was the working cast is the master now; the copy is the working cast."""
    here = {cast.label: cast for cast in case.things.filter(kind="cast", state="in-use")}
    original = here.get(MASTER) or here.get(WORKING)
    if MASTER in here:
        # Copied again from the same master: the earlier copy is no good.
        if WORKING in here:
            record.change(here[WORKING], state="void")
    elif WORKING in here:
        record.change(here[WORKING], label=MASTER)
    record.create(
        Thing, kind="cast", label=WORKING, case=case, pour=original.pour if original else None
    )


def take_casts_back(record: Recorder, case: Case, finish: Event) -> None:
    """Leave the casts as they were before ``finish``, an event that was taken back.

    The casts that it made never were: their rows go, the record keeps that they stood there.
    What it made void is good again, and the master is once more the working cast.
    """
    set_by = {one["pk"]: one["set"] for one in finish.changes if one["m"] == "Thing"}
    for cast in case.things.filter(pk__in=set_by).order_by("pk"):
        cells = set_by[cast.pk]
        if "kind" in cells:
            record.remove(cast)
        elif cells.get("state") == "void":
            record.change(cast, state="in-use")
        elif cells.get("label") == MASTER:
            record.change(cast, label=WORKING)


@verb("thing.put", may="note")
def put_thing(record: Recorder, *, thing: int, place: str) -> dict[str, object]:
    """Note where a thing was put."""
    found = Thing.objects.select_for_update().filter(pk=thing).first()
    if found is None:
        raise Refusal("no-thing", _("There is no such thing. Look it up again."))
    if not place.strip():
        raise Refusal("no-place", _("Say where it was put."), field="place")
    record.event("thing.put", case=found.case, subject=f"{found.kind} {found.label}", place=place)
    record.change(found, place=place.strip()[:60])
    return {"thing": found.pk}


@verb("thing.gone", may="note")
def thing_gone(record: Recorder, *, thing: int, reason: str) -> dict[str, object]:
    """Note that a thing broke, was discarded or retired."""
    found = Thing.objects.select_for_update().filter(pk=thing).first()
    if found is None:
        raise Refusal("no-thing", _("There is no such thing. Look it up again."))
    if found.occupations.filter(freed_at__isnull=True).exists():
        raise Refusal(
            "thing-in-use", _("A case is still in it. Open or move that case first."), field="thing"
        )
    record.event(
        "thing.gone", case=found.case, subject=f"{found.kind} {found.label}", reason=reason
    )
    record.change(found, state="gone")
    return {"thing": found.pk}
