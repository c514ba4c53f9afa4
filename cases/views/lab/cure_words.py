"""Programs of a cure in a sentence."""

from __future__ import annotations

from dataclasses import replace

from django.utils.translation import gettext as _

from cases.domain.cure.program import EXAMPLES, Hold, Program


def say_minutes(minutes: float) -> str:
    """Return minutes as people say them: ``8 h``, ``1 h 30 min``, ``45 min``."""
    hours, rest = divmod(minutes, 60)
    told = {"hours": f"{hours:g}", "minutes": f"{rest:g}"}
    if hours and rest:
        return _("%(hours)s h %(minutes)s min") % told
    return (_("%(hours)s h") if hours else _("%(minutes)s min")) % told


def _say_stage(stage: Hold) -> str:
    told = {
        "celsius": f"{stage.celsius:g}",
        "held": say_minutes(stage.minutes),
        "rise": say_minutes(stage.ramp_minutes),
    }
    if stage.boil and stage.ramp_minutes:
        return _("at the boil for %(held)s after a rise of %(rise)s") % told
    if stage.boil:
        return _("at the boil for %(held)s") % told
    if stage.ramp_minutes:
        return _("%(celsius)s °C for %(held)s after a rise of %(rise)s") % told
    return _("%(celsius)s °C for %(held)s") % told


def say_program(program: Program) -> str:
    """Return a program as a sentence: stages, then cooling."""
    heat = _(", then ").join(_say_stage(stage) for stage in program.stages)
    parts = [heat]
    if program.bench_rest_minutes:
        rest = say_minutes(program.bench_rest_minutes)
        parts.insert(0, _("%(rest)s under the clamp") % {"rest": rest})
    told = {
        "air": say_minutes(program.bench_cool_minutes),
        "water": say_minutes(program.water_cool_minutes),
    }
    if program.bench_cool_minutes and program.water_cool_minutes:
        parts.append(_("then %(air)s in air, %(water)s in tap water") % told)
    elif program.bench_cool_minutes:
        parts.append(_("then %(air)s in air") % told)
    elif program.water_cool_minutes:
        parts.append(_("then %(water)s in tap water") % told)
    return _("%(parts)s.") % {"parts": "; ".join(parts)}


def example_of(key: str) -> Program:
    """Return an example in the reader's language, to be edited."""
    one = EXAMPLES[key]
    return replace(one, name=_(one.name), status=_(one.status), note=_(one.note))
