"""What the design page says while it is drawn: class, rules, wires, bar, and what follows."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from types import MappingProxyType
from typing import Any, cast

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from cases.domain.archtitle import say_teeth
from cases.domain.claspforecast import ClaspForecast, say_band
from cases.domain.design import Borders, Design, Polish
from cases.domain.design_change import changed_teeth, changes
from cases.domain.design_slips import flaws
from cases.domain.rule_spec import SEVERITY_WORDS, Finding, RuleLimits, say
from cases.domain.strengthener import Strengthening, compare
from cases.domain.toothwords import labels
from cases.forms.design.form import DesignForm, concede_name
from cases.forms.design.slips import refuse_slips
from cases.forms.design.so_far import read_so_far
from cases.models import Case
from cases.selectors.design_agreed import agreed_design, altered_from
from cases.selectors.design_doubts import doubts
from cases.selectors.design_drafts import decided_against
from cases.selectors.design_effect import contributions, design_effect
from cases.selectors.design_says import Says, says
from cases.selectors.design_versions import kennedy_of
from cases.views.case.design_words import (
    changes_of,
    contribution_words,
    effect_sentences,
    hints,
)


@dataclass(frozen=True)
class RuleRow:
    """One rule as the page shows it.

    ``concede`` names the entry with the reason for passing it. Where it was passed before, for
    something else than it says now, ``said_then`` is what it said and ``because`` the reason: that
    passes nothing any more. ``ask_about`` ends the address at which the practice is asked, with the
    tooth where there is one; empty where nothing is asked.
    """

    finding: Finding
    severity: str
    said: str
    sentence: str
    concede: str
    reason: str
    said_then: str
    because: str
    ask_about: str


def rule_rows(found: Says, plan: Design, notation: str) -> list[RuleRow]:
    """Return the rules that speak, with the reasons already given for passing some."""
    given = {(one.rule, one.subject): one for one in plan.concessions}
    label = labels(notation, plan.primary)
    rows = []
    for finding in found.findings:
        may = finding.severity == "concession"
        one = given.get((finding.rule, finding.subject)) if may else None
        stale = one is not None and not one.covers(finding.mark)
        rows.append(
            RuleRow(
                finding,
                finding.severity,
                _(SEVERITY_WORDS[finding.severity]),
                finding.say(label),
                concede_name(finding.rule, finding.subject, finding.mark) if may else "",
                reason=one.reason if one and not stale else "",
                said_then=say(one.words, dict(one.facts), label) if one and stale else "",
                because=one.reason if one and stale else "",
                ask_about=_ask_about(finding, plan),
            )
        )
    return rows


def _ask_about(finding: Finding, plan: Design) -> str:
    if finding.question is None:
        return ""
    tooth = finding.facts.get("tooth")
    return f"?tooth={plan.number_at(tooth)}" if isinstance(tooth, int) else "?"


def count_words(found: Says) -> str:
    """Say in one line how many rules refuse, ask for a concession, and advise."""
    stops = sum(one.severity == "cannot" for one in found.findings)
    open_ones = sum(one.severity == "concession" and not one.passed for one in found.findings)
    other = sum(one.severity in ("asks", "advice") for one in found.findings)
    said = []
    if stops:
        said.append(ngettext("%(n)s refused", "%(n)s refused", stops) % {"n": stops})
    if open_ones:
        words = ngettext("%(n)s needs a concession", "%(n)s need a concession", open_ones)
        said.append(words % {"n": open_ones})
    if other:
        said.append(ngettext("%(n)s to consider", "%(n)s to consider", other) % {"n": other})
    return ", ".join(said) or _("No rule speaks against it.")


@dataclass(frozen=True)
class WireSays:
    """What is said of one clasp: sentences, the figures in a line, and what they come from."""

    label: str
    forecast: ClaspForecast
    figures: list[tuple[str, str]]
    reckoned_from: str


def wire_says(found: Says, label: Callable[[int], str]) -> dict[int, WireSays]:
    """Return what each reckoned clasp does, by tooth."""
    return {
        tooth: WireSays(label(tooth), one, _figures(one), _alloy_of(one))
        for tooth, one in found.forecasts.items()
    }


def _figures(one: ClaspForecast) -> list[tuple[str, str]]:
    band = say_band
    tapered = []
    if one.tip_share < 1:
        thin = f"{one.tip_share * one.wire.mm:.2g} mm"
        peak = f"{one.taper.peak_at * one.arm_mm:.1f} mm"
        tapered = [
            (_("Tapered to"), thin),
            (_("Stressed most"), _("%(length)s from the acrylic") % {"length": peak}),
        ]
    return [
        *tapered,
        (_("Force at the tip"), f"{band(one.force_n)} N"),
        (_("Bending stress"), f"{band(one.stress_mpa, 0)} MPa"),
        (_("Left to yield"), f"{one.reserve.low:.0%} – {one.reserve.high:.0%}"),
        (_("Shortest springy arm"), f"{band(one.shortest_arm_mm)} mm"),
        (_("To pull it off"), f"{band(one.withdrawal_n)} N"),
        (_("Tip below the line"), f"{one.tip_depth_mm:.1f} mm"),
    ]


def _alloy_of(one: ClaspForecast) -> str:
    """Say what the wire is made of, in its ranges, with their source."""
    alloy = one.alloy
    return _(
        "%(alloy)s: E %(modulus)s GPa, yield %(strength)s MPa (%(source)s, %(status)s; the maker's "
        "certificate counts before)."
    ) % {
        "alloy": _(alloy.name).capitalize(),
        "modulus": say_band(alloy.modulus_gpa, 0),
        "strength": say_band(alloy.yield_mpa, 0),
        "source": alloy.source,
        "status": _(alloy.status),
    }


def bar_rows(bar: Strengthening) -> dict[str, Any]:
    """Return stiffness and stress of bar and plate as the page shows them."""

    def thousand(band: Any) -> str:
        return f"{band.low / 1000:.0f} – {band.high / 1000:.0f}"

    stiff = [
        (
            words,
            thousand(axis.acrylic), thousand(axis.bar),
            thousand(axis.not_bonded), thousand(axis.bonded),
        )
        for words, axis in (
            (_("Through the thickness"), bar.thickness), (_("Up and down"), bar.height)
        )
    ]  # fmt: skip
    squeeze = [
        (_("Without a bar"), compare(bar.squeeze.plain)),
        (_("With a bar that does not stick"), compare(bar.squeeze.not_bonded)),
        (_("With a bar that sticks"), compare(bar.squeeze.bonded)),
    ]
    return {"stiff": stiff, "squeeze": squeeze, "note": bar.note, "bar": bar}


def live(
    case: Case,
    form: DesignForm,
    notation: str,
    *,
    limits: RuleLimits,
    now: datetime,
    standing: Mapping[str, str],
) -> dict[str, Any]:
    """Return what the page says of a form, by the limits of the lab.

    ``standing``: why stages may stand, as it was written with a draft.

    A form that is refused is drawn and judged as far as it can be read. What it changes is said
    against the design that the bench works to, and so is a draft that is only opened.
    """
    stands = Design.from_json(case.design.data) if case.design else form.before
    shown: dict[str, Any] = {
        "plan": form.before, "faults": [], "sentences": [], "hints": [], "rules": [],
        "in_question": [], "wires": {}, "bar_says": None, "altered": [], "ring": (),
        "unread": False,
    }  # fmt: skip
    reading: DesignForm | None = form
    if form.is_bound and not form.is_valid():
        shown["faults"] = [str(error) for errors in form.errors.values() for error in errors]
        shown["unread"] = True
        reading = read_so_far(form)
    if reading is None:
        return shown
    after = reading.plan() if form.is_bound else form.before
    shown["plan"] = after
    whole, label = replace(after, draft=False), labels(notation, after.primary)
    if slips := flaws(whole, label):
        shown["faults"] = list(dict.fromkeys([*shown["faults"], *slips]))
        if form.is_bound and not shown["unread"]:
            refuse_slips(form, whole)
    # What only waits for its second half is drawn and judged all the same.
    if flaws(replace(after, draft=True), label):
        return shown
    found = says(case, after, limits, now=now)
    shown |= {
        "says": found,
        "kennedy": str(found.kennedy or ""),
        "kennedy_why": found.kennedy.reason if found.kennedy else "",
        "kennedy_areas": found.kennedy.why(notation) if found.kennedy else (),
        "rules": rule_rows(found, after, notation),
        "rules_count": count_words(found),
        "wires": wire_says(found, label),
        "bar_says": bar_rows(found.bar) if found.bar else None,
        "hints": hints(case, after, notation),
    }
    if form.is_bound or after != stands:
        shown["kennedy_was"] = _class_before(case, stands, shown["kennedy"])
        shown |= _follows(case, reading, stands, after, notation, standing)
    elif not after.provisional:
        shown["each_adds"] = _adds(case, Design(arch=after.arch), after)
    return shown


def _class_before(case: Case, before: Design, now: str) -> str:
    """Return the class of the design that is changed where it was another; else nothing."""
    was = "" if before.provisional else str(kennedy_of(case, before) or "")
    return was if was != now else ""


def _adds(case: Case, before: Design, after: Design) -> list[str]:
    """Say what each decision adds or takes away; of an empty ``before``, what each has added."""
    return [contribution_words(change, one) for change, one in contributions(case, before, after)]


def _follows(
    case: Case,
    form: DesignForm,
    before: Design,
    after: Design,
    notation: str,
    standing: Mapping[str, str],
) -> dict[str, Any]:
    """Return what the change adds, takes away and puts in question."""
    finish = form.cleaned_data if form.is_bound else {}
    effect = design_effect(
        case,
        after,
        borders=cast("Borders | None", finish.get("borders")),
        polish=cast("Polish | None", finish.get("polish")),
    )
    follows: dict[str, Any] = {
        "sentences": changes_of(before, after, notation) + effect_sentences(effect),
        "each_adds": _adds(case, before, after),
    }
    made_by = decided_against(case)
    if made_by is None:
        return follows
    follows |= {
        "ring": tuple(changed_teeth(changes(made_by, after))),
        "altered": [
            f"{_(one.words)}: {say_teeth(one.teeth, after.arch, notation, milk=after.primary)}"
            for one in altered_from(agreed_design(case), after)
        ],
        "in_question": in_question(case, after, form.data, standing),
    }
    return follows


def in_question(
    case: Case,
    plan: Design,
    sent: Mapping[str, Any],
    standing: Mapping[str, str] = MappingProxyType({}),
) -> list[dict[str, Any]]:
    """Return the finished stages that a design puts in question, with what is decided of each.

    ``sent``: the entries of the form; ``standing``: what was written before.
    """
    return [
        {
            "stage": one.stage,
            "because": ", ".join(_(change.words) for change in one.because),
            "becomes": sent.get(
                f"becomes_{one.stage.key}", "stands" if one.stage.key in standing else ""
            ),
            "why": sent.get(f"why_{one.stage.key}", standing.get(one.stage.key, "")),
        }
        for one in doubts(case, plan)
    ]


def say_undecided(rows: list[dict[str, Any]]) -> None:
    """Say beside each finished stage that a refused form left undecided what it wants."""
    for row in rows:
        if row["becomes"] == "stands" and not row["why"].strip():
            row["undecided"] = _("Write why it may stand.")
        elif not row["becomes"]:
            row["undecided"] = _("Choose whether it is done again, or left standing and why.")
