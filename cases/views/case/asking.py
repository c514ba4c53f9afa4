"""Questions to the practice, their answers, and holds."""

from __future__ import annotations

from typing import Any

from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404
from django.utils.translation import gettext as _

from cases.domain import questions as asked
from cases.domain.teeth import from_fdi, is_tooth
from cases.domain.toothwords import for_reader
from cases.forms import case_actions as forms
from cases.forms.expected import expected_day
from cases.forms.portal import TelephoneForm
from cases.models import Hold, Question
from cases.services.answer import answer_question, settle_answer
from cases.services.correct_order import ask_for_change
from cases.services.hold import (
    ask_practice,
    hold_case,
    release_hold,
    withdraw_question,
)
from cases.views.case.actions import version_of
from cases.views.case.answer_words import answer_line
from cases.views.case.door import Action, act, frame_of, the_case
from cases.views.case.history_words import reason_words
from cases.views.notation import notation_of, written_in
from cases.views.page import LabRequest, integer, page, send, show

BLANK = "…"


def readable(spec: asked.Question) -> str:
    """Return a question's words with its blanks as dots."""
    return _(spec.words).format(**dict.fromkeys(spec.placeholders, BLANK))


@page(may="hold")
def choose_question(request: LabRequest, number: str) -> HttpResponse:
    """Choose one of the lab's questions, or ask in own words."""
    case = the_case(request, number)
    names = dict(case.stages.values_list("key", "name"))
    questions = [
        {
            "number": spec.number,
            "words": readable(spec),
            "stops": [names[key] for key in spec.stops if key in names],
            "reception": spec.reception,
        }
        for spec in asked.QUESTIONS
        if spec.number != 25
    ]
    context = {
        "case": case,
        "frame": frame_of(request),
        "notation": notation_of(request),
        "questions": questions,
    }
    return show(request, "case/ask.html", context)


@page(may="hold", methods=("GET", "POST"))
def ask(request: LabRequest, number: str, question: int) -> HttpResponse:
    """Fill a question's blanks and ask it; 0 is a question in own words."""
    case = the_case(request, number)
    spec = asked.BY_NUMBER.get(question) if question else None
    if question and spec is None:
        raise Http404
    notation = written_in(request, request.POST)
    tooth = integer(request.GET.get("tooth"))
    form = forms.AskForm(
        request.POST if request.method == "POST" else None,
        spec=spec,
        stages=forms.choices_of(case),
        notation=notation,
        initial={"tooth": from_fdi(tooth, notation)} if is_tooth(tooth) else {},
    )

    def run(data: dict[str, Any]) -> object:
        return send(
            request,
            ask_practice,
            case=case.pk,
            number=question,
            subject={name: data[name] for name in form.blanks},
            words=data.get("words", ""),
            stage=integer(data.get("stage")),
        )

    action = Action(
        readable(spec) if spec else _("Ask the practice in your own words."),
        _("Ask the practice"),
        _("The practice is asked. What does not need the answer goes on."),
        _answers(spec),
    )
    return act(request, case, form, action, run, anchor="waits")


def _answers(spec: asked.Question | None) -> str:
    if spec is None:
        return _("The practice answers in words, or asks you to ring.")
    words = " / ".join(_(answer.words) for answer in spec.answers)
    return _("To choose from: %(answers)s") % {"answers": words}


@page(may="hold", methods=("GET", "POST"))
def answer(request: LabRequest, number: str, pk: int) -> HttpResponse:
    """Enter an answer that the practice gave on the telephone."""
    case = the_case(request, number)
    question = get_object_or_404(Question, pk=pk, case=case)
    question.case = case
    form = TelephoneForm(
        request.POST or None,
        question=question,
        notation=written_in(request, request.POST),
        now=request.now,
    )

    def run(data: dict[str, Any]) -> object:
        return send(
            request,
            answer_question,
            question=question.pk,
            answer=data["answer"],
            note=form.note(),
            rang=data["rang"],
            entries=form.entries(),
        )

    action = Action(
        for_reader(question.words, form.notation),
        _("Enter this answer"),
        _("The answer is entered. What waits for a change of the design goes on with a yes alone.")
        if question.alters
        else _("The answer is entered. What waited for it can go on."),
        _("For an answer given on the telephone. The practice can also answer by itself."),
        template="case/answer.html",
    )
    return act(request, case, form, action, run, anchor="waits")


@page(may="hold", methods=("GET", "POST"))
def settle(request: LabRequest, number: str, pk: int) -> HttpResponse:
    """Say what was done with an answer, or that it needs nothing."""
    case = the_case(request, number)
    question = get_object_or_404(
        Question, pk=pk, case=case, settled_at__isnull=True, answered_at__isnull=False
    )
    form = forms.SettleForm(request.POST or None)
    if request.method == "POST":
        form = forms.SettleForm(request.POST)

    def run(data: dict[str, Any]) -> object:
        return send(request, settle_answer, question=question.pk, words=data["words"])

    names = dict(case.stages.values_list("key", "name"))
    action = Action(
        _("What was done with this answer?"),
        _("It is done, or needs nothing"),
        _("It is noted. Nothing is left to do with this answer."),
        template="case/settle.html",
    )
    told = answer_line(question, case, names, request.visitor.capabilities)
    return act(request, case, form, action, run, anchor="waits", told=told)


@page(may="hold", methods=("GET", "POST"))
def withdraw(request: LabRequest, number: str, pk: int) -> HttpResponse:
    """Take a question back that needs no answer any more."""
    case = the_case(request, number)
    question = get_object_or_404(Question, pk=pk, case=case)
    form = forms.WithdrawForm(request.POST or None)

    def run(data: dict[str, Any]) -> object:
        return send(request, withdraw_question, question=question.pk, words=data["words"])

    action = Action(
        _("Take the question back."), _("Take it back"), _("The question is taken back."),
        for_reader(question.words, notation_of(request)),
    )  # fmt: skip
    return act(request, case, form, action, run, anchor="waits")


@page(may="hold", methods=("GET", "POST"))
def hold(request: LabRequest, number: str) -> HttpResponse:
    """Stop the case, or single stages of it."""
    case = the_case(request, number)
    form = forms.HoldForm(request.POST or None, stages=forms.choices_of(case))

    def run(data: dict[str, Any]) -> object:
        version = version_of(request, case.version)
        until = {"expected_on": expected_day(data["expected_on"])}
        return send(request, hold_case, case=case.pk, version=version, **data | until)

    action = Action(
        _("Put it on hold."),
        _("Put it on hold"),
        _("It is on hold. Running work that this stops was put down."),
    )
    return act(request, case, form, action, run, anchor="waits", version=case.version)


@page(may="hold", methods=("GET", "POST"))
def release(request: LabRequest, number: str, pk: int) -> HttpResponse:
    """Let a held case go on."""
    case = the_case(request, number)
    held = get_object_or_404(Hold, pk=pk, case=case)
    form = forms.ReleaseForm(request.POST or None)
    if request.method == "POST":
        form = forms.ReleaseForm(request.POST)

    def run(data: dict[str, Any]) -> object:
        return send(request, release_hold, hold=held.pk, words=data["words"])

    lede = f"{reason_words(held.reason)}. {held.words}".strip()
    action = Action(
        _("Release the hold."), _("Release it"), _("The hold is released."),
        lede[:1].upper() + lede[1:],
    )  # fmt: skip
    return act(request, case, form, action, run, anchor="waits")


@page(may="hold", methods=("GET", "POST"))
def change(request: LabRequest, number: str) -> HttpResponse:
    """Have the practice confirm a change of mind before the order is altered."""
    case = the_case(request, number)
    form = forms.ChangeForm(request.POST or None, stages=forms.choices_of(case))

    def run(data: dict[str, Any]) -> object:
        return send(
            request,
            ask_for_change,
            case=case.pk,
            version=version_of(request, case.version),
            change=data["change"],
            rang=data["rang"],
            stage=integer(data["stage"]),
        )

    action = Action(
        _("The practice wants something else than it ordered."),
        _("Ask for a written confirmation"),
        _("The practice is asked to confirm. The order stays as it is until then."),
        _("Correct the order when the practice has confirmed the change."),
    )
    return act(request, case, form, action, run, anchor="waits", version=case.version)
