"""Resins, their programs and the probes of the baths."""

from __future__ import annotations

from collections.abc import Iterable

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.utils.translation import gettext as _

from cases.domain.cautions import DEFER, for_stage
from cases.domain.cure.program import EXAMPLES, Program, boiling_c, problems, read_program
from cases.forms.cure_settings import ProbeForm, ProgramForm, ResinForm
from cases.models import Bath, CureProgram, Resin
from cases.selectors.cure_settings import (
    ProgramPage,
    newest_of,
    one_program,
    one_resin,
    probe_checks,
    resin_list,
)
from cases.services.probes import check_probe
from cases.services.record import Outcome, Refusal
from cases.services.resins import retire_program, save_program, save_resin
from cases.views.form_page import posted
from cases.views.lab.cure_words import example_of, say_program
from cases.views.lab.steps import show_step
from cases.views.page import LabRequest, page, send

STEP = "cases:resins"


def _altitude(request: LabRequest) -> int:
    return request.lab.altitude_m if request.lab else 0


def _boiling(request: LabRequest) -> dict[str, object]:
    """Return at what temperature a bath boils here, and at which altitude that is."""
    altitude = _altitude(request)
    return {"altitude": altitude, "boiling": f"{boiling_c(altitude):.1f}"}


def _told(rows: Iterable[CureProgram]) -> list[tuple[CureProgram, Program, str]]:
    found = []
    for row in rows:
        program = read_program(row.document)
        found.append((row, program, say_program(program)))
    return found


@page(may="settings", methods=("GET", "POST"))
def resins(request: LabRequest) -> HttpResponse:
    """Show the resins with their programs; add one."""
    form = ResinForm(request.POST or None)
    if request.method == "POST":
        done = posted(form, lambda _data: send(request, save_resin, **form.body()))
        if done:
            messages.success(request, _("The resin is saved. Now its programs."))
            return redirect("cases:resin", done.result["resin"])
    rows = [(row, _told(programs)) for row, programs in resin_list()]
    return show_step(request, "lab/resins.html", form, step=STEP, rows=rows, **_boiling(request))


@page(may="settings", methods=("GET", "POST"))
def resin(request: LabRequest, pk: int) -> HttpResponse:
    """Show one resin and its programs; change what its maker says."""
    row = one_resin(pk)
    if row is None:
        raise Http404
    first = {name: getattr(row, name) for name in ResinForm.base_fields}
    form = ResinForm(request.POST or None, initial=first)
    if posted(form, lambda _data: send(request, save_resin, resin=pk, **form.body())):
        messages.success(request, _("The resin is saved."))
        return redirect("cases:resin", pk)
    newest = _told(newest_of(list(row.programs.all())))
    return show_step(
        request,
        "lab/resin.html",
        form,
        step=STEP,
        row=row,
        in_use=[one for one in newest if one[0].retired_at is None],
        retired=[one for one in newest if one[0].retired_at is not None],
        **_boiling(request),
    )


@page(may="settings", methods=("GET", "POST"))
def program_new(request: LabRequest, pk: int) -> HttpResponse:
    """Enter a program for a resin; ``?from=long`` fills the form with an example to be edited."""
    row = get_object_or_404(Resin, pk=pk)
    asked = request.GET.get("from", "")
    first = example_of(asked) if asked in EXAMPLES else None
    form = ProgramForm(request.POST or None, altitude_m=_altitude(request), first=first)
    if request.method == "POST":
        done = posted(form, lambda _data: send(request, save_program, resin=pk, **form.body()))
        if done:
            messages.success(request, _("The program is saved."))
            return redirect("cases:program", done.result["program"])
    examples = [(key, _(one.name), say_program(one)) for key, one in EXAMPLES.items()]
    return _program_page(request, form, resin=row, examples=examples, asked=asked, first=first)


@page(may="settings", methods=("GET", "POST"))
def program(request: LabRequest, pk: int) -> HttpResponse:
    """Show a version of a program and the others; save a further one."""
    found = one_program(pk)
    if found is None:
        raise Http404
    row, shown = found.row, read_program(found.row.document)
    form = ProgramForm(request.POST or None, altitude_m=_altitude(request), first=shown, again=True)
    if request.method == "POST":
        done = posted(form, lambda _data: _save_again(request, found, form))
        if done:
            messages.success(request, _("Version %(n)d is saved.") % {"n": done.result["version"]})
            return redirect("cases:program", done.result["program"])
    return _program_page(
        request,
        form,
        resin=row.resin,
        row=row,
        shown=shown,
        words=say_program(shown),
        wrong=problems(shown, _altitude(request)),
        newest=found.newest,
        versions=[(one, words) for one, _read, words in _told(found.versions)],
    )


def _save_again(request: LabRequest, found: ProgramPage, form: ProgramForm) -> Outcome:
    base = found.row.version
    return send(request, save_program, resin=found.row.resin_id, base=base, **form.body())


def _program_page(request: LabRequest, form: ProgramForm, **context: object) -> HttpResponse:
    return show_step(
        request,
        "lab/program.html",
        form,
        step=STEP,
        cautions=for_stage("cure"),
        cautions_defer=DEFER,
        **_boiling(request),
        **context,
    )


@page(may="settings", methods=("POST",))
def program_retire(request: LabRequest, pk: int) -> HttpResponse:
    """Take a program out of use."""
    row = get_object_or_404(CureProgram, pk=pk)
    try:
        send(request, retire_program, program=pk)
    except Refusal as refusal:
        messages.error(request, refusal.sentence)
    else:
        messages.success(request, _("It is out of use. Loads that ran by it keep it."))
    return redirect("cases:resin", row.resin_id)


@page(may="settings", methods=("GET", "POST"))
def probes(request: LabRequest, pk: int) -> HttpResponse:
    """Show how the probes of a bath read when they were checked; write down a check."""
    bath = get_object_or_404(Bath, pk=pk)
    form = ProbeForm(request.POST or None, initial={"checked_on": timezone.localdate(request.now)})
    if posted(form, lambda _data: send(request, check_probe, bath=pk, **form.body())):
        messages.success(request, _("The check is written down."))
        return redirect("cases:probes", pk)
    rows = [(check, f"{abs(check.reads_high_k):g}") for check in probe_checks(bath)]
    return show_step(request, "lab/probes.html", form, step="cases:baths", bath=bath, rows=rows)
