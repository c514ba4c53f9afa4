"""The lag of a bath: a run with two probes is sent, its columns confirmed, the lag kept."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

import numpy as np
from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from cases.domain.cure.lag import follow
from cases.domain.cure.samples import checked
from cases.domain.cure.time_columns import Rows
from cases.domain.cure.trace import Recognised, recognise
from cases.forms.lag import LagNewForm, LagReadForm
from cases.models import Bath, LagRun
from cases.selectors.cure_settings import lag_runs
from cases.services.bath_raw import raw_of
from cases.services.bath_table import rows_of
from cases.services.lag import calibrate, take_in_run, take_in_typed_run
from cases.views.form_page import posted
from cases.views.lab.steps import show_step
from cases.views.page import LabRequest, SeeOther, page, send

LINES_SHOWN = 12


@dataclass(frozen=True)
class Line:
    """A moment of a run: minutes from its beginning, and °C of bath, flask and the fitted lag."""

    minute: float
    bath: float
    flask: float
    fitted: float


@page(may="settings", methods=("GET", "POST"))
def lag(request: LabRequest, pk: int) -> HttpResponse:
    """Show how far a flask lags behind a bath and from which runs that is known; send a run."""
    bath = get_object_or_404(Bath, pk=pk)
    sent = (request.POST, request.FILES) if request.method == "POST" else ()
    form = LagNewForm(*sent)
    taken = posted(form, _take_in) if sent else None
    if taken is not None:
        where = reverse("cases:bath-lag-read", args=[pk, taken.pop("sha256")])
        return SeeOther(f"{where}?{urlencode(taken)}")
    runs = lag_runs(bath)
    return show_step(
        request,
        "lab/lag.html",
        form,
        step="cases:baths",
        bath=bath,
        runs=runs,
        lines=_lines(runs[0]) if runs else [],
    )


def _take_in(data: dict[str, Any]) -> dict[str, str]:
    if not data["file"]:
        return {"sha256": take_in_typed_run(data["typed"]), "how": "typed"}
    found = {"sha256": take_in_run(data["file"]), "how": "file"}
    if data["flask_file"]:
        found["flask"] = take_in_run(data["flask_file"], "flask_file")
    return found


def _lines(run: LagRun) -> list[Line]:
    """Return some moments of a run, the fitted lag beside what was read."""
    bath, flask = checked(run.points["bath"]), checked(run.points["flask"])
    since, until = max(bath.start_s, flask.start_s), min(bath.end_s, flask.end_s)
    instants = np.linspace(since, until, LINES_SHOWN)
    driving = bath.between(since, until)
    fitted = follow(driving, run.minutes, flask.at(since), instants)
    return [
        Line((at - since) / 60, bath.at(at), flask.at(at), float(said))
        for at, said in zip(instants.tolist(), fitted, strict=True)
    ]


def _table(sha256: str) -> tuple[Rows, Recognised]:
    raw = raw_of(sha256)
    if raw is None:
        raise Http404
    rows = rows_of(raw.data, typed=raw.how == "typed")
    return rows, recognise(rows, typed=raw.how == "typed")


@page(may="settings", methods=("GET", "POST"))
def lag_read(request: LabRequest, pk: int, sha256: str) -> HttpResponse:
    """Show what was recognised of a run; fit and keep the lag as the person confirms it."""
    bath = get_object_or_404(Bath, pk=pk)
    flask = request.GET.get("flask", "")
    table, other = _table(sha256), _table(flask) if flask else None
    form = LagReadForm(
        request.POST if request.method == "POST" else None,
        table=table,
        other=other,
        initial={"ran_on": timezone.localdate(request.now)},
    )
    if request.method == "POST":
        known = {"sha256": sha256, "flask_sha256": flask, "how": request.GET.get("how", "file")[:8]}
        done = posted(
            form, lambda _data: send(request, calibrate, bath=pk, **known, **form.body())
        )  # fmt: skip
        if done is not None:
            words = (
                _("Resin in a flask is about %(minutes)s min behind %(bath)s.")
                if done.result["in_use"]
                else _("This run of %(bath)s gave %(minutes)s min. A newer run stays in use.")
            )
            told = {"minutes": f"{done.result['minutes']:.0f}", "bath": bath.name}
            messages.success(request, words % told)
            return redirect("cases:bath-lag", pk)
    rows, found = table
    return show_step(
        request,
        "lab/lag_read.html",
        form,
        step="cases:baths",
        bath=bath,
        rows=[[cell[:40] for cell in row[:8]] for row in rows[: found.first_row + 4] if row],
        count=sum(map(bool, rows[found.first_row :])),
    )
