"""One stage for several cases at once: all of them, or none with the case that is in the way."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from cases.models import Case, CaseStage
from cases.services.access import lock_stage
from cases.services.record import Recorder, Refusal, verb
from cases.services.stage import begin, end
from cases.services.undo import take_back

FEWEST = 2


def _locked(stages: list[dict[str, Any]]) -> list[tuple[Case, CaseStage, dict[str, Any]]]:
    """Lock the stages, cases by primary key first so that two batches never wait in a circle.

    Raises
    ------
    Refusal
        Fewer than two, one of them twice, or stages of different kinds.
    """
    wanted = {int(one["stage"]): one for one in stages}
    if len(wanted) != len(stages):
        raise Refusal("twice", _("A case stands twice in this batch. Load the page again."))
    if len(wanted) < FEWEST:
        raise Refusal("too-few", _("Choose two cases or more, or open the one by itself."))
    order = CaseStage.objects.filter(pk__in=wanted).order_by("case_id", "pk")
    found = list(order.values_list("pk", flat=True))
    if len(found) != len(wanted):
        raise Refusal("no-stage", _("A case of this batch is not there any more. Load it again."))
    rows = []
    for pk in found:
        with _naming(pk):
            rows.append((*lock_stage(pk, version=int(wanted[pk]["version"])), wanted[pk]))
    if len({stage.key for _case, stage, _one in rows}) > 1:
        raise Refusal("mixed", _("A batch is one stage for all. Choose cases at the same stage."))
    return rows


@contextmanager
def _naming(stage_id: int) -> Iterator[None]:
    """Name the case in a refusal that does not, and the row of the form it belongs to."""
    try:
        yield
    except Refusal as refusal:
        number = (
            CaseStage.objects.filter(pk=stage_id).values_list("case__number", flat=True).first()
        )
        sentence = refusal.sentence
        if number and number not in sentence:
            sentence = f"{number}: {sentence}"
        field = f"{refusal.field}-{stage_id}" if refusal.field else ""
        raise Refusal(
            refusal.code,
            _("%(sentence)s Nothing of this batch was stored.") % {"sentence": sentence},
            field=field,
        ) from refusal


@verb("batch.start", may="work")
def start_many(record: Recorder, *, stages: list[dict[str, Any]]) -> dict[str, Any]:
    """Begin the same stage of several cases; the hands' minutes are then shared equally.

    Parameters
    ----------
    stages
        ``[{"stage": pk, "version": n, "things_used": {"flask": "7"}, "photo": pk | None}]``.

    Raises
    ------
    Refusal
        What the single start would refuse, with the case named; nothing is started then.
    """
    for case, stage, one in _locked(stages):
        with _naming(stage.pk):
            begin(record, case, stage, one.get("things_used") or {}, one.get("photo"))
    return {"stages": [int(one["stage"]) for one in stages]}


@verb("batch.finish", may="work")
def finish_many(record: Recorder, *, stages: list[dict[str, Any]]) -> dict[str, Any]:
    """Pass the same stage of several cases on.

    Parameters
    ----------
    stages
        ``[{"stage": pk, "version": n, "things_used": {"clamp": "2"}}]``.

    Raises
    ------
    Refusal
        ``checks-open`` with the case whose checks are open or failed, or what the single
        finish would refuse; nothing is finished then.
    """
    for case, stage, one in _locked(stages):
        with _naming(stage.pk):
            answer = end(record, case, stage, [], one.get("things_used") or {})
            if not answer["finished"]:
                _refuse_unfinished(stage, answer)
    return {"stages": [int(one["stage"]) for one in stages]}


@verb("batch.undo", may="work")
def undo_many(record: Recorder, *, stages: list[dict[str, Any]]) -> dict[str, Any]:
    """Take the actor's last start or finish of several cases back, within ten seconds.

    A compensating event for each case.

    Parameters
    ----------
    stages
        ``[{"stage": pk, "version": n}]``.

    Raises
    ------
    Refusal
        What the single undo would refuse, with the case named; nothing is taken back then.
    """
    for case, stage, _one in _locked(stages):
        with _naming(stage.pk):
            take_back(record, case, stage)
    return {"stages": [int(one["stage"]) for one in stages]}


def _refuse_unfinished(stage: CaseStage, answer: dict[str, Any]) -> None:
    failed, missing = len(answer["failed"]), len(answer["open"])
    parts = []
    if failed:
        said = ngettext("%(n)d check failed", "%(n)d checks failed", failed)
        parts.append(said % {"n": failed})
    if missing:
        said = ngettext("%(n)d check still open", "%(n)d checks still open", missing)
        parts.append(said % {"n": missing})
    raise Refusal(
        "checks-open",
        _("%(stage)s has %(parts)s. Open the case and look at them.")
        % {"stage": _(stage.name), "parts": _(" and ").join(parts)},
    )
