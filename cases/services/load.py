"""Loads of a bath: flasks are gathered for a program, and the program is looked at.

Locks: the load first, then (to start it) its bath, then its cases by primary key, then their rows.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django.utils.translation import gettext as _

from cases.domain.cure.program import Program
from cases.domain.cure.settings import estimate_limits, usual_filling
from cases.models import (
    Bath,
    Case,
    CaseStage,
    CheckItem,
    CureProgram,
    Load,
    LoadFlask,
    Note,
    Occupied,
    Resin,
)
from cases.selectors.bench_stage import case_in_flask
from cases.selectors.cure_limits import cure_limits
from cases.selectors.cure_settings import is_in_use, program_here
from cases.selectors.filling import filling_of
from cases.selectors.resin import packed_since, packed_with, resins_in_use
from cases.services.access import lock_case, lock_open_case
from cases.services.cure_rest import set_rest
from cases.services.numbering import next_in
from cases.services.progress import refresh
from cases.services.record import Recorder, Refusal, verb
from cases.services.soundness import sound

CURE = "cure"
WAX_CHECK = 34
WORDS_LENGTH = 200


def lock_load(number: int, version: int | None = None) -> Load:
    """Return a load by its number, locked; refuse one that is not there or was changed."""
    load = (
        Load.objects.select_for_update(of=("self",))
        .select_related("bath", "program__resin")
        .filter(number=number)
        .first()
    )
    if load is None:
        raise Refusal("no-load", _("There is no such load. Look at the list of loads."))
    if version is not None and load.version != version:
        raise Refusal(
            "load-changed",
            _("Load %(number)d was changed by somebody else meanwhile. Look at it again.")
            % {"number": load.number},
        )
    return load


def refuse_gathered(load: Load) -> None:
    """Raise Refusal when a load is no longer being gathered."""
    if load.state != "gathering":
        raise Refusal(
            "not-gathering",
            _("Load %(number)d is in the bath already, or was given up. Make a new one.")
            % {"number": load.number},
        )


def refuse_student(record: Recorder) -> None:
    """Raise Refusal for a student: what is done about a cure is for a colleague to decide."""
    if record.actor.is_student:
        raise Refusal("may-not-decide", _("A student does not decide this. Ask a colleague."))


@verb("load.make", may="work")
def make_load(record: Recorder, *, bath: int, program: int) -> dict[str, Any]:
    """Begin to gather flasks for a bath and a program.

    Raises
    ------
    Refusal
        The bath or the program is out of use, or the bath cannot get so hot.
    """
    tub = Bath.objects.filter(pk=bath, active=True).first()
    if tub is None:
        raise Refusal("no-bath", _("Choose a bath that is in use."), field="bath")
    chosen = CureProgram.objects.filter(pk=program, retired_at=None, resin__active=True).first()
    if chosen is None:
        raise Refusal("no-program", _("Choose a program that is in use."), field="program")
    if not is_in_use(chosen):
        raise Refusal(
            "old-program",
            _("There is a newer version of this program. Load the page again."),
            field="program",
        )
    program_at_altitude, _altitude = program_here(chosen)
    refuse_too_hot(tub, program_at_altitude)
    record.event("load.made", subject=tub.name)
    row = record.create(
        Load,
        number=next_in("load"),
        bath=tub,
        program=chosen,
        made_at=record.now,
        made_by=record.person,
    )
    return {"load": row.pk, "number": row.number}


def refuse_too_hot(bath: Bath, program: Program) -> None:
    """Raise Refusal when a bath does not get as hot as a program asks for."""
    wanted = max(hold.celsius for hold in program.stages)
    if bath.highest_c is not None and wanted > bath.highest_c + 0.5:
        raise Refusal(
            "too-hot",
            _("%(bath)s holds %(most)s °C at most; this program asks for %(wanted)s °C.")
            % {"bath": bath.name, "most": f"{bath.highest_c:g}", "wanted": f"{wanted:.0f}"},
            field="bath",
        )


def _case_of(label: str) -> Case:
    """Return the case that a flask's number, or a case's own number, stands for."""
    found = case_in_flask(label) or Case.objects.filter(number__iexact=label).first()
    if found is None:
        raise Refusal(
            "no-flask",
            _("No case is in flask %(label)s, and none has this number. Read it again.")
            % {"label": label},
            field="label",
        )
    return found


def waxed_mm(stage: CaseStage) -> float | None:
    """Return the thickest wax that was measured at wax-up, in millimetres."""
    items = CheckItem.objects.filter(case=stage.case_id, number=WAX_CHECK).exclude(state="dropped")
    for item in items:
        value = (item.values.get("values") or {}).get("thickest")
        if value:
            return float(value)
    return None


@verb("load.add", may="work")
def add_flask(
    record: Recorder,
    *,
    load: int,
    version: int,
    label: str,
    thickest_mm: float | None = None,
    resin: int | None = None,
    unmeasured_words: str = "",
) -> dict[str, Any]:
    """Add one flask by its engraved number, or by the number of its case.

    Parameters
    ----------
    thickest_mm
        Its thickest place, where nobody measured the wax.
    resin
        What it is packed with, where nobody noted it at the packing and the lab has several; it is
        kept with the flask, and nobody is asked again.
    unmeasured_words
        Why it goes in although the maker states a largest thickness and nobody measured it, and
        who decided.

    Raises
    ------
    Refusal
        The flask is unknown, full, cured already, too thick, in another load, or packed with a
        resin that this program is not for; ``not-measured`` where the maker states a largest
        thickness, ``may-not-decide`` for a student who gives a reason for that.
    """
    row = lock_load(load, version)
    refuse_gathered(row)
    label = label.strip()
    if not label:
        raise Refusal("no-label", _("Enter the number of the flask, or scan it."), field="label")
    case = lock_open_case(_case_of(label).pk)
    stage = case.stages.filter(key=CURE).exclude(state="dropped").first()
    if stage is None or stage.state not in {"planned", "running"}:
        raise Refusal(
            "not-to-cure",
            _("%(number)s has nothing to cure now. Open the case and look.")
            % {"number": case.number},
            field="label",
        )
    _room(row, stage)
    told = _allows_program(row, case, resin)
    thick = waxed_mm(stage)
    if thick is None:
        thick = thickest_mm
    conceded = _not_too_thick(record, row, case, thick, unmeasured_words)
    flask = (
        Occupied.objects.filter(case=case, thing__kind="flask", freed_at__isnull=True)
        .values_list("thing__label", flat=True)
        .first()
    )
    if conceded:
        record.event("load.flask-unmeasured", case=case, subject=CURE, load=row.number)
        record.create(Note, case=case, text=conceded, kind="note", by=record.person, at=record.now)
    said: dict[str, Any] = {"resin": told.name} if told else {}
    record.event("load.flask-added", case=case, subject=CURE, load=row.number, **said)
    record.create(
        LoadFlask,
        load=row,
        case=case,
        stage=stage,
        attempt=stage.attempt,
        flask=flask or "",
        thickest_mm=thick,
        resin=told,
        added_at=record.now,
    )
    set_rest(record, case)
    refresh(record, case)
    record.change(row, version=row.version + 1, sound={})
    return {"load": row.number, "case": case.number, "version": row.version}


def _room(load: Load, stage: CaseStage) -> None:
    other = LoadFlask.objects.filter(stage=stage, left_at=None).select_related("load").first()
    if other is not None:
        raise Refusal(
            "in-a-load",
            _("It is in load %(number)d already.") % {"number": other.load.number},
            field="label",
        )
    if load.flasks.filter(left_at=None).count() >= load.bath.capacity:
        raise Refusal(
            "bath-full",
            _("%(bath)s takes %(n)d flasks, and so many are in this load. Make another load.")
            % {"bath": load.bath.name, "n": load.bath.capacity},
            field="label",
        )


def _allows_program(load: Load, case: Case, told: int | None) -> Resin | None:
    """Refuse a case whose resin the program is not for, or whose resin nobody knows.

    Returns
    -------
    Resin | None
        What somebody said here that it is packed with; None where that was known already, or is
        the only resin of the lab.
    """
    known, said = packed_with(case), None
    if known is None:
        in_use = resins_in_use()
        if len(in_use) < 2:
            return None
        known = said = next((one for one in in_use if one.pk == told), None)
        if known is None:
            raise Refusal(
                "say-resin",
                _("Nobody noted at the packing with which resin %(number)s is packed. Say it here.")
                % {"number": case.number},
                field="resin",
            )
    if known.pk != load.program.resin_id:
        raise Refusal(
            "other-resin",
            _(
                "%(number)s is packed with %(resin)s; this program is for %(other)s. Put it into "
                "a load with a program of its own resin."
            )
            % {"number": case.number, "resin": known.name, "other": load.program.resin.name},
            field="label",
        )
    return said


def _not_too_thick(
    record: Recorder, load: Load, case: Case, thick: float | None, words: str
) -> str:
    """Refuse a piece that is too thick for the program, or that nobody measured.

    Returns
    -------
    str
        Why one that nobody measured goes in all the same; empty where it was measured or where
        the maker states no largest thickness.
    """
    most = load.program.document.get("largest_mm")
    told = {"number": case.number, "most": f"{most:g}" if most else ""}
    if thick is not None and not 0 < thick <= 60:
        raise Refusal(
            "bad-thickness", _("The thickest place is 0.5 to 60 mm."), field="thickest_mm"
        )
    if most and thick and thick > most:
        raise Refusal(
            "too-thick",
            _(
                "%(number)s is %(thick)s mm thick at one place; the maker allows %(most)s mm for "
                "this program. Take a longer program."
            )
            % {**told, "thick": f"{thick:g}"},
            field="label",
        )
    if not most or thick:
        return ""
    if not words.strip():
        raise Refusal(
            "not-measured",
            _(
                "Nobody measured how thick %(number)s is, and the maker allows %(most)s mm for "
                "this program. Measure its thickest place and enter it, or say why it goes in "
                "all the same."
            )
            % told,
            field="thickest_mm",
        )
    refuse_student(record)
    return words.strip()[:WORDS_LENGTH]


def refuse_changed(load: Load, flasks: Iterable[LoadFlask]) -> None:
    """Raise Refusal for a flask that would not be put into its load as it is by now.

    A case may be sent back after it was put in: then it is packed anew, or its wax measured anew.
    """
    for flask in flasks:
        told = {"number": flask.case.number, "other": load.program.resin.name}
        known = packed_with(flask.case)
        if known is None and packed_since(flask) and len(resins_in_use()) > 1:
            raise Refusal(
                "say-resin",
                _(
                    "Nobody noted with which resin %(number)s was packed since it was put into "
                    "this load. Take its flask out of this load and add it again."
                )
                % told,
            )
        if known is not None and known.pk != load.program.resin_id:
            raise Refusal(
                "other-resin",
                _(
                    "%(number)s is packed with %(resin)s; this program is for %(other)s. Take its "
                    "flask out of this load."
                )
                % {**told, "resin": known.name},
            )
        _measured_alike(flask)


def _measured_alike(flask: LoadFlask) -> None:
    measured, kept = waxed_mm(flask.stage), flask.thickest_mm
    if measured is None or measured == kept:
        return
    told = {"number": flask.case.number, "now": f"{measured:g}", "was": f"{kept or 0:g}"}
    if kept is None:
        words = _(
            "%(number)s is %(now)s mm at its thickest place by the check of the wax; it was put "
            "into this load unmeasured. Take its flask out of this load and add it again."
        )
    else:
        words = _(
            "%(number)s is %(now)s mm at its thickest place by the check of the wax, and %(was)s "
            "mm in this load. Take its flask out of this load and add it again."
        )
    raise Refusal("measured-since", words % told)


@verb("load.remove", may="work")
def remove_flask(record: Recorder, *, load: int, version: int, flask: int) -> dict[str, Any]:
    """Take a flask out of a load that is still being gathered."""
    row = lock_load(load, version)
    refuse_gathered(row)
    found = row.flasks.filter(pk=flask, left_at=None).select_related("case").first()
    if found is None:
        raise Refusal("no-flask", _("This flask is not in the load any more."))
    record.event("load.flask-removed", case=found.case, subject=CURE, load=row.number)
    _leaves(record, found)
    record.change(row, version=row.version + 1, sound={})
    return {"load": row.number, "version": row.version}


@verb("load.cancel", may="work")
def cancel_load(record: Recorder, *, load: int, version: int) -> dict[str, Any]:
    """Give a load up that was never put in."""
    row = lock_load(load, version)
    refuse_gathered(row)
    record.event("load.cancelled", subject=f"load {row.number}")
    for flask in row.flasks.filter(left_at=None).order_by("case_id"):
        _leaves(record, flask)
    record.change(row, state="cancelled", version=row.version + 1)
    return {"load": row.number}


def _leaves(record: Recorder, flask: LoadFlask) -> None:
    """Take a flask out of a load that was never put in; its rest is that of its resin again."""
    record.change(flask, left_at=record.now)
    case = lock_case(flask.case_id)
    if case.state == "open":
        set_rest(record, case)
        refresh(record, case)


@verb("load.estimate", may="work")
def estimate(record: Recorder, *, load: int, version: int) -> dict[str, Any]:
    """Ask the heat model about the program and the thickest flask; the answer stays as it is."""
    row = lock_load(load, version)
    refuse_gathered(row)
    flasks = list(row.flasks.filter(left_at=None).select_related("case", "stage"))
    if not flasks:
        raise Refusal("empty", _("Add the flasks first."), field="label")
    refuse_changed(row, flasks)
    known = [flask.thickest_mm for flask in flasks if flask.thickest_mm]
    program, _altitude = program_here(row.program)
    changed = cure_limits()
    filling, ratio_from = filling_of(
        row, [flask.case_id for flask in flasks], usual=usual_filling(changed)
    )
    found = sound(
        program,
        known,
        len(flasks) - len(known),
        record.now,
        filling=filling,
        limits=estimate_limits(changed),
    )
    found["ratio_from"] = ratio_from
    record.event("load.estimated", subject=f"load {row.number}", risk=found["risk"])
    record.change(row, sound=found, version=row.version + 1)
    return {"load": row.number, "risk": found["risk"], "version": row.version}
