"""What a design changes, in sentences."""

from __future__ import annotations

from collections.abc import Iterable

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from cases.domain.design import Design
from cases.domain.design_change import Change, changes
from cases.domain.order import OrderForm
from cases.domain.teeth import from_fdi, teeth_of_arch
from cases.domain.toothwords import labels
from cases.forms.design.entries import say_faces
from cases.models import Case
from cases.selectors.design_effect import Effect


def changes_of(before: Design, after: Design, notation: str) -> list[str]:
    """Say what differs between two designs, one sentence for each kind of decision."""
    said: list[str] = []

    def teeth(numbers: Iterable[int], of: Design = after) -> str:
        wanted, label = set(numbers), labels(notation, of.primary)
        return ", ".join(label(t) for t in teeth_of_arch(after.arch) if t in wanted)

    def differs(old: frozenset[int], new: frozenset[int], more: str, less: str) -> None:
        if new - old:
            said.append(more % {"teeth": teeth(new - old)})
        if old - new:
            # What is given up is named as it stood then.
            said.append(less % {"teeth": teeth(old - new, before)})

    differs(before.replaced, after.replaced, _("Now replaced: %(teeth)s."),
            _("No longer replaced: %(teeth)s."))  # fmt: skip
    differs(
        before.missing - before.replaced,
        after.missing - after.replaced,
        _("Missing and not replaced: %(teeth)s."),
        _("No longer a gap: %(teeth)s."),
    )
    differs(before.extracted, after.extracted, _("Taken out at delivery: %(teeth)s."),
            _("Not taken out after all: %(teeth)s."))  # fmt: skip
    held = frozenset(clasp.tooth for clasp in before.clasps)
    holds = frozenset(clasp.tooth for clasp in after.clasps)
    differs(held, holds, _("Clasp on %(teeth)s."), _("No clasp on %(teeth)s."))
    for change in changes(before, after):
        if change.aspect == "clasp":
            words = _("Other wire, undercut or arm on %(teeth)s.")
            said.append(words % {"teeth": teeth(change.teeth)})
    differs(before.rests, after.rests, _("Wire rest on %(teeth)s."), _("No rest on %(teeth)s."))
    if before.bar != after.bar:
        said.append(_("A bar.") if after.bar else _("No bar."))
    said += _block_out(before, after, notation)
    said += _further(before, after, notation)
    if before.needs_agreement != after.needs_agreement:
        agreed = after.needs_agreement
        said.append(_("The practice agrees first.") if agreed else _("No agreement is needed."))
    return said


# What the sentences above have said already.
_SAID_ALREADY = frozenset(
    {"replaced", "gaps", "extracted", "clasped", "clasp", "rests", "bar", "method", "blocked"}
)


def _only_within(change: Change, before: Design, after: Design) -> bool:
    """Whether there was a bar before too, or the same way to block out, and it is another one."""
    same = {"bar": before.bar == after.bar, "method": before.method == after.method}
    return same.get(change.aspect, False)


def _further(before: Design, after: Design, notation: str) -> list[str]:
    """Say what else differs: "Acrylic stops: 33."."""
    said, label = [], labels(notation, after.primary)
    for change in changes(before, after):
        if change.aspect in _SAID_ALREADY and not _only_within(change, before, after):
            continue
        teeth = ", ".join(label(t) for t in teeth_of_arch(after.arch) if t in change.teeth)
        words = _(change.words)
        said.append(f"{words}: {teeth}." if teeth else _("%(what)s: changed.") % {"what": words})
    return said


def _block_out(before: Design, after: Design, notation: str) -> list[str]:
    methods = {
        "none": _("No block-out, relief only."),
        "plaster": _("Block-out in plaster: no cast will be left to fit to."),
        "wax-then-copy": _("Block-out in wax, then a copy: the master is kept to fit on."),
        "copy-then-plaster": _("A copy, then plaster on it: the master is kept to fit on."),
    }
    said = []
    if before.method != after.method:
        said.append(methods[after.method])
    more, less = after.blocked - before.blocked, before.blocked - after.blocked
    if more:
        said.append(_("Blocked out: %(faces)s.") % {"faces": _faces(more, after, notation)})
    if less:
        faces = _faces(less, before, notation)
        said.append(_("No longer blocked out: %(faces)s.") % {"faces": faces})
    return said


def _faces(named: Iterable[tuple[int, str]], plan: Design, notation: str) -> str:
    there = ((plan.number_at(tooth), side) for tooth, side in named)
    return say_faces(there, plan.arch, notation)


def _minutes(number: float) -> str:
    return _("%(n)s min") % {"n": f"{number:.0f}"}


def _signed(minutes: float) -> str:
    return f"{minutes:+.0f}".replace("-", "−")


def effect_sentences(effect: Effect) -> list[str]:
    """Say which stages and minutes the decision adds or takes away."""
    said = []
    if effect.added:
        names = ", ".join(
            f"“{one.spec.name}” ({_minutes(one.minutes)})" if one.minutes else f"“{one.spec.name}”"
            for one in effect.added
        )
        said.append(_("This adds %(stages)s.") % {"stages": names})
    if effect.dropped:
        names = ", ".join(f"“{one.spec.name}”" for one in effect.dropped)
        said.append(_("This takes away %(stages)s.") % {"stages": names})
    if effect.changed:
        names = ", ".join(
            f"“{one.spec.name}” {_signed(one.minutes - before)}" for one, before in effect.changed
        )
        said.append(_("Minutes change: %(stages)s.") % {"stages": names})
    said.append(_total(effect))
    if effect.checks_added or effect.checks_dropped:
        said.append(_checks(effect))
    return said


def contribution_words(change: Change, effect: Effect) -> str:
    """Say what one decision adds or takes away: "The bar: adds “Shape the bar” (18 min), …"."""
    parts = []
    for words, stages in (
        (_("adds %(stages)s"), effect.added),
        (_("drops %(stages)s"), effect.dropped),
    ):
        if stages:
            names = ", ".join(
                f"“{_(one.spec.name)}” ({_minutes(one.minutes)})" if one.minutes
                else f"“{_(one.spec.name)}”"
                for one in stages
            )  # fmt: skip
            parts.append(words % {"stages": names})
    longer = sum(one.minutes - before for one, before in effect.changed)
    if longer:
        parts.append(_("%(n)s min elsewhere") % {"n": _signed(longer)})
    if effect.checks_added or effect.checks_dropped:
        parts.append(_checks(effect).rstrip("."))
    return _("%(what)s: %(does)s.") % {"what": _(change.words), "does": ", ".join(parts)}


def _total(effect: Effect) -> str:
    parts = {
        "now": _minutes(effect.minutes),
        "n": _minutes(abs(effect.minutes - effect.minutes_before)),
    }
    if round(effect.minutes) > round(effect.minutes_before):
        return _("The whole piece then takes %(now)s of hands, %(n)s more than before.") % parts
    if round(effect.minutes) < round(effect.minutes_before):
        return _("The whole piece then takes %(now)s of hands, %(n)s less than before.") % parts
    return _("The whole piece takes %(now)s of hands, as before.") % parts


def _checks(effect: Effect) -> str:
    said = []
    if effect.checks_added:
        more = ngettext("%(n)s check more", "%(n)s checks more", effect.checks_added)
        said.append(more % {"n": effect.checks_added})
    if effect.checks_dropped:
        less = ngettext("%(n)s check less", "%(n)s checks less", effect.checks_dropped)
        said.append(less % {"n": effect.checks_dropped})
    return ", ".join(said) + "."


def hints(case: Case, plan: Design, notation: str) -> list[str]:
    """Say where a design leaves the order; the technician decides whether to ask."""
    ordered = frozenset(OrderForm.from_json(case.order).replaces)
    said = []
    if ordered and ordered != plan.replaced and not plan.needs_agreement:
        teeth = ", ".join(from_fdi(tooth, notation) for tooth in sorted(ordered))
        said.append(
            _("The order names %(teeth)s to replace, and the design differs. Let the practice "
              "agree first.") % {"teeth": teeth}
        )  # fmt: skip
    if plan.extracted and not plan.needs_agreement:
        said.append(
            _("Teeth are taken out at delivery: a dated written order and an agreed design are "
              "wanted first.")
        )  # fmt: skip
    return said
