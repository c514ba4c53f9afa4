"""Enter checks, add photographs, and accept a failed check by a named person."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from typing import Any

from django.utils.translation import gettext as _

from cases.domain.checks import Answer, Judgement, PlannedCheck, judge
from cases.domain.judgement import CLOCK, RESIN
from cases.models import (
    Case,
    CaseStage,
    CheckItem,
    CheckPhoto,
    CheckResult,
    Concession,
    Event,
    File,
    WorkSpan,
)
from cases.selectors.resin import clocked_minutes, makers_numbers, resin_of
from cases.selectors.rows import find, read
from cases.services.access import lock_item, lock_stage
from cases.services.record import Recorder, Refusal, verb

ENTERED = ("passed", "failed", "conceded", "dropped")
"""States of a check for which something was entered, or might have been."""
ASKED = ("open", "passed", "failed", "conceded")
ORDER = ("position", "id")

Kept = dict[str, dict[str, float]]


def kept_values(case: Case) -> Kept:
    """Return the values of this case that later checks are judged against, by check key."""
    # The columns alone: a case has a hundred checks, and each bears its whole wording.
    entered = read(CheckItem, ("key", "values"), case_id=case.pk, state=ENTERED, order=ORDER)
    return {key: stored["values"] for key, stored in entered if stored.get("values")}


def _known(case: Case, item: CheckItem, spec: PlannedCheck, kept: Kept) -> Kept:
    """Return the kept values and, for a mix, what the resin's maker and the dough's clock say."""
    if spec.rule != "mix":
        return kept
    minutes = clocked_minutes(item.stage)
    clock = {} if minutes is None else {"minutes": minutes}
    return {**kept, RESIN: makers_numbers(resin_of(case)), CLOCK: clock}


def _photos(items: Iterable[CheckItem], attempt: int) -> dict[int, int]:
    """Return how many photographs each check has at an attempt."""
    checks = tuple(item.pk for item in items)
    rows = read(CheckPhoto, ("item_id",), item_id=checks, attempt=attempt)
    return Counter(item for (item,) in rows)


def _numbers(given: dict[str, Any], spec: PlannedCheck) -> dict[str, float]:
    known = {measure.key: measure for measure in spec.measures}
    unknown = set(given) - set(known)
    if unknown:
        raise Refusal(
            "no-measure", _("This check does not ask for that number. Load the page again.")
        )
    numbers = {}
    for key, value in given.items():
        if value is None or value == "":
            continue
        try:
            numbers[key] = float(value)
        except (TypeError, ValueError):
            raise Refusal(
                "not-a-number",
                _("“%(value)s” is not a number. Enter digits, such as 4.1.") % {"value": value},
                field=key,
            ) from None
        if known[key].counted and not (numbers[key].is_integer() and numbers[key] >= 0):
            raise Refusal(
                "not-a-count",
                _("%(what)s are counted: enter a whole number, such as 3.")
                % {"what": _(known[key].words)},
                field=key,
            )
    return numbers


LONGEST_TOLD = 60


def _told(given: dict[str, Any], spec: PlannedCheck) -> dict[str, str]:
    known = {one.key: one for one in spec.told}
    if set(given) - set(known):
        raise Refusal(
            "no-measure", _("This check does not ask for those words. Load the page again.")
        )
    told = {}
    for key, text in given.items():
        said = " ".join(str(text or "").split())[:LONGEST_TOLD]
        if not said:
            continue
        if known[key].choices and said not in known[key].choices:
            raise Refusal(
                "no-choice",
                _("Choose one: %(choices)s.")
                % {"choices": ", ".join(_(one) for one in known[key].choices)},
                field=key,
            )
        told[key] = said
    return told


def enter(
    record: Recorder,
    case: Case,
    item: CheckItem,
    entry: dict[str, Any],
    *,
    kept: Kept,
    photos: int,
) -> tuple[CheckResult, Event] | None:
    """Judge one entry for a check and set the check to it; earlier entries stay.

    ``kept`` are the values that it is judged against; what is entered here is put among them.

    Returns
    -------
    tuple or None
        The result, still to be created, with its event; None when nothing is new.
    """
    spec = PlannedCheck.from_json(item.spec)
    values = dict(item.values.get("values", {})) | _numbers(entry.get("values") or {}, spec)
    yes = entry.get("yes", item.values.get("yes"))
    told = dict(item.values.get("words", {})) | _told(entry.get("words") or {}, spec)
    answer = Answer(yes=yes, values=values, photos=photos, words=told)
    verdict = judge(spec, answer, _known(case, item, spec, kept))
    stored: dict[str, Any] = {"yes": yes, "values": values, "photos": photos}
    if told:
        stored["words"] = told
    if verdict.binding:
        stored["binding"] = True
    sentence = verdict.sentence[:300]
    if (stored, verdict.state, sentence) == (item.values, item.state, item.sentence):
        return None
    kept.pop(item.key, None)
    if values and verdict.state != "open":
        kept[item.key] = values
    event = record.event(
        "check.entered", case=case, subject=item.key, state=verdict.state, number=item.number
    )
    record.change(item, values=stored, state=verdict.state, sentence=sentence)
    result = CheckResult(
        item=item,
        attempt=item.stage.attempt,
        values=stored,
        state=verdict.state,
        sentence=sentence,
        design_version=item.design_version,
        by=record.actor,
        at=record.now,
    )
    return result, event


def enter_all(
    record: Recorder, case: Case, stage: CaseStage, entries: list[dict[str, Any]]
) -> None:
    """Store several entries of one stage."""
    if not entries:
        return
    asked = find(CheckItem, stage_id=stage.pk, state=ASKED, order=ORDER, lock=True)
    items = {item.pk: item for item in asked}
    kept, photos = kept_values(case), _photos(items.values(), stage.attempt)
    entered = []
    for entry in entries:
        item = items.get(int(entry["item"]))
        if item is None:
            raise Refusal("no-check", _("A check on this page is not this stage's. Load it again."))
        item.stage = stage
        new = enter(record, case, item, entry, kept=kept, photos=photos.get(item.pk, 0))
        if new is not None:
            entered.append(new)
    record.create_many([row for row, _ in entered], [event for _, event in entered])


def judge_anew(record: Recorder, case: Case, stage: CaseStage, *, rule: str) -> None:
    """Judge once more what was entered for the checks of a rule: more is known than then."""
    asked = find(CheckItem, stage_id=stage.pk, state=("passed", "failed", "conceded"), lock=True)
    entries = [{"item": item.pk} for item in asked if item.spec["rule"] == rule]
    enter_all(record, case, stage, entries)


@verb("check.enter", may="work")
def enter_checks(
    record: Recorder, *, stage: int, version: int, checks: list[dict[str, Any]]
) -> dict[str, Any]:
    """Store entries for the checks of a stage that is in hand, without passing it on."""
    case, row = lock_stage(stage, version=version)
    if row.state not in {"running", "paused"}:
        raise Refusal(
            "not-running", _("%(stage)s is not in hand. Start it first.") % {"stage": _(row.name)}
        )
    enter_all(record, case, row, checks)
    items = row.checks.exclude(state="dropped")
    return {"stage": row.pk, "states": {item.key: item.state for item in items}}


@verb("check.photograph", may="work")
def add_check_photo(record: Recorder, *, item: int, version: int, file: int) -> dict[str, Any]:
    """Add a photograph to a check of a stage that is in hand."""
    case, stage, row = lock_item(item, version=version)
    if stage.state not in {"running", "paused"}:
        raise Refusal(
            "not-running", _("%(stage)s is not in hand. Start it first.") % {"stage": _(stage.name)}
        )
    picture = File.objects.filter(pk=file, case=case).first()
    if picture is None:
        raise Refusal("no-file", _("The photograph did not arrive. Take it again."), field="photo")
    record.event("check.photographed", case=case, subject=row.key, file=picture.sha256)
    record.create(CheckPhoto, item=row, attempt=stage.attempt, file=picture)
    photos = _photos([row], stage.attempt).get(row.pk, 0)
    new = enter(record, case, row, {}, kept=kept_values(case), photos=photos)
    if new is not None:
        record.create_many([new[0]])
    return {"item": row.pk, "state": row.state}


@verb("check.concede", may="countersign")
def concede(
    record: Recorder, *, item: int, version: int, reason: str, words: str = ""
) -> dict[str, Any]:
    """Accept a failed check, with a reason, by somebody who did not do the work.

    Raises
    ------
    Refusal
        ``own-work`` for the person who did it, ``not-failed`` when there is nothing to accept.
    """
    case, stage, row = lock_item(item, version=version)
    if row.state != "failed":
        raise Refusal("not-failed", _("This check has not failed; there is nothing to accept."))
    verdict = judged(case, row)
    if not verdict.concession:
        raise Refusal(
            "never-accepted",
            _("%(sentence)s This cannot be accepted as it is.") % {"sentence": verdict.sentence},
        )
    if not reason:
        raise Refusal("no-reason", _("Choose why the check is accepted as it is."), field="reason")
    if record.actor.is_student:
        raise Refusal("student", _("A student cannot accept a failed check. Ask a colleague."))
    if did_work(stage, record.actor.pk):
        raise Refusal(
            "own-work", _("You did this work yourself. Somebody else has to look at it and accept.")
        )
    record.event("check.conceded", case=case, subject=row.key, reason=reason)
    record.create(
        Concession,
        item=row,
        attempt=stage.attempt,
        reason=reason,
        words=words[:400],
        sentence=row.sentence,
        by=record.actor,
        at=record.now,
    )
    record.change(row, state="conceded")
    return {"item": row.pk, "state": row.state}


def judged(case: Case, item: CheckItem) -> Judgement:
    """Judge what is stored for a check, once more."""
    answer = Answer(
        yes=item.values.get("yes"),
        values=item.values.get("values", {}),
        photos=item.values.get("photos", 0),
        words=item.values.get("words", {}),
    )
    spec = PlannedCheck.from_json(item.spec)
    return judge(spec, answer, _known(case, item, spec, kept_values(case)))


def in_the_way(stage: CaseStage) -> tuple[list[str], list[str]]:
    """Return the keys of the checks that keep a stage from being passed: open, failed.

    A check that the lab made a matter of choice stands in the way only where its failure
    binds all the same (nothing faces a clasp).
    """
    columns = ("key", "state", "required", "values")
    items = read(CheckItem, columns, stage_id=stage.pk, state=("open", "failed"), order=ORDER)
    missing = [key for key, state, required, _ in items if required and state == "open"]
    failed = [
        key
        for key, state, required, values in items
        if state == "failed" and (required or values.get("binding"))
    ]
    return missing, failed


def did_work(stage: CaseStage, person_id: int) -> bool:
    """Tell whether a person had hands on the stage's present attempt."""
    return (
        stage.worker_id == person_id
        or WorkSpan.objects.filter(
            run__stage=stage, run__attempt=stage.attempt, person_id=person_id
        ).exists()
    )
