"""Turn the checks of the template into the checks of one case: per stage, per subject."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Callable, Collection, Iterable
from dataclasses import replace

from cases.domain.check_spec import Again, CheckSpec, Measure, PlannedCheck
from cases.domain.conditions import holds
from cases.domain.design import Clasp, Design, WorkOrder
from cases.domain.subjects import free_ends, subjects_of
from cases.domain.teeth import is_anterior
from cases.domain.words import N_
from cases.domain.words import gettext as _

# How much shorter than designed the free arm may be: half a millimetre off ten is 17 % more
# force (beam arithmetic, F ~ 1/L³). judgement, mm
ARM_TOLERANCE_MM = 0.5
# Wax above the survey line that the limits of the bracing are made for. judgement, mm
USUAL_BRACING_MM = 1.0

BORDER_WORDS: dict[str, str] = {
    "left-full": N_("left at full depth for the dentist"),
    "reduced-2mm": N_("2 mm short of the fold"),
    "as-drawn": N_("as drawn on the cast"),
}
COVERAGE_WORDS: dict[str, str] = {
    "whole": N_("as a whole"),
    "front-half": N_("at least in its front half"),
    "to-the-notch": N_("to the notch behind it"),
    "as-cast": N_("as far as the cast shows it"),
}
# How far nobody has decided is said as that: it is no design that the bench could keep to.
NOT_COVERED_SO_FAR = N_("(how far, nobody has said)")
POLISH_WORDS: dict[str, str] = {
    "none": N_("no polish, smooth from the paper"),
    "outer-borders-left": N_("outer surfaces polished, borders left"),
    "all-outer": N_("all outer surfaces polished"),
}

DesignLimit = Callable[[Measure, WorkOrder, Design, str], Measure | None]


def _clasp_on(design: Design, subject: str) -> Clasp | None:
    return next((clasp for clasp in design.clasps if str(clasp.tooth) == subject), None)


def _undercut(m: Measure, order: WorkOrder, design: Design, subject: str) -> Measure | None:
    clasp = _clasp_on(design, subject)
    if clasp is None or clasp.undercut_mm is None:
        return m
    return replace(m, low=clasp.undercut_mm, high=clasp.undercut_mm)


def _free_arm(m: Measure, order: WorkOrder, design: Design, subject: str) -> Measure | None:
    clasp = _clasp_on(design, subject)
    if clasp is None or clasp.free_arm_mm is None:
        return m
    return replace(m, low=round(clasp.free_arm_mm - ARM_TOLERANCE_MM, 3))


def _pour_limit(m: Measure, order: WorkOrder, design: Design, subject: str) -> Measure | None:
    """The product's own limit beats the usual one for conventional alginate."""
    limit = order.pour_limit_minutes
    if limit is None:
        limit = m.high if order.alginate else None
    never = m.refuse_high
    keeps_longer = limit is None or (never is not None and limit > never)
    return replace(m, high=limit, refuse_high=None if keeps_longer else never)


def _lower_only(m: Measure, order: WorkOrder, design: Design, subject: str) -> Measure | None:
    return m if design.arch == "lower" else None


def _upper_only(m: Measure, order: WorkOrder, design: Design, subject: str) -> Measure | None:
    return m if design.arch == "upper" else None


def _metal_inside(m: Measure, order: WorkOrder, design: Design, subject: str) -> Measure | None:
    return m if design.clasps or design.rests or design.bar else None


def _back_teeth(m: Measure, order: WorkOrder, design: Design, subject: str) -> Measure | None:
    """Behind the canines a base has a flange; the teeth of a front gap may stand on the gum."""
    return m if any(not is_anterior(tooth) for tooth in design.replaced) else None


def _free_end(m: Measure, order: WorkOrder, design: Design, subject: str) -> Measure | None:
    return m if free_ends(design) else None


def _has_band(design: Design, subject: str) -> bool:
    """Whether the bracing side of a clasped tooth was blocked out.

    The arm lies on the cheek side, so the bracing is on the other (McCracken, from memory).
    """
    return any(str(tooth) == subject and side == "lingual" for tooth, side in design.blocked)


def _bracing(m: Measure, order: WorkOrder, design: Design, subject: str) -> Measure | None:
    """The height drawn, where it is more than the usual one; the reserve shrinks alike."""
    clasp = _clasp_on(design, subject)
    if clasp is None or clasp.bracing_mm is None or m.low is None:
        return m
    return replace(m, low=round(m.low + max(0.0, clasp.bracing_mm - USUAL_BRACING_MM), 3))


def _band(m: Measure, order: WorkOrder, design: Design, subject: str) -> Measure | None:
    return _bracing(m, order, design, subject) if _has_band(design, subject) else None


def _no_band(m: Measure, order: WorkOrder, design: Design, subject: str) -> Measure | None:
    return None if _has_band(design, subject) else m


def _caliper(m: Measure, order: WorkOrder, design: Design, subject: str) -> Measure | None:
    """Taken on the wax where nothing else will tell at the end what was lost."""
    return None if design.master_kept else _no_band(m, order, design, subject)


DESIGN_LIMITS: dict[str, DesignLimit] = {
    "undercut": _undercut,
    "free-arm": _free_arm,
    "pour-limit": _pour_limit,
    "lower": _lower_only,
    "upper": _upper_only,
    "metal": _metal_inside,
    "back-teeth": _back_teeth,
    "free-end": _free_end,
    "bracing": _bracing,
    "band": _band,
    "no-band": _no_band,
    "caliper": _caliper,
}

# What the route editor says of each.
DESIGN_LIMIT_WORDS: dict[str, str] = {
    "undercut": N_("The gauge of the design"),
    "free-arm": N_("The free arm of the design, half a millimetre less allowed"),
    "pour-limit": N_("The impression product's own limit"),
    "lower": N_("Asked in the lower arch only"),
    "upper": N_("Asked in the upper arch only"),
    "metal": N_("Asked where wire or bar lies in the acrylic"),
    "back-teeth": N_("Asked where a back tooth is replaced"),
    "free-end": N_("Asked where the piece has a free end"),
    "bracing": N_("The height of the bracing in the design, where it is more"),
    "band": N_("Asked where the bracing side was blocked out"),
    "no-band": N_("Asked where the bracing side was not blocked out"),
    "caliper": N_("Asked where no master and no blocked-out band will be there to measure from"),
}


def plan_checks(
    specs: Iterable[CheckSpec], order: WorkOrder, design: Design, stages: Collection[str]
) -> dict[str, tuple[PlannedCheck, ...]]:
    """Return the checks of each stage that the case has, in the order of their numbers.

    Parameters
    ----------
    stages
        The keys of the stages that the case has; checks elsewhere are left out.
    """
    planned: dict[str, list[PlannedCheck]] = defaultdict(list)
    for spec in specs:
        if not holds(spec.when, order, design):
            continue
        subjects = subjects_of(spec.subjects, design)
        if spec.stage in stages:
            planned[spec.stage] += [_planned(spec, s, order, design) for s in subjects]
        for again in spec.again:
            if again.stage in stages and holds(again.when, order, design):
                later = _looked_at_again(spec, again)
                planned[again.stage] += [_planned(later, s, order, design) for s in subjects]
    return {stage: tuple(sorted(c, key=lambda x: x.number)) for stage, c in planned.items()}


def _looked_at_again(spec: CheckSpec, again: Again) -> CheckSpec:
    measures = () if again.as_yes_no else again.measures or spec.measures
    limits = again.limits or {}
    return replace(
        spec,
        stage=again.stage,
        words=again.words or spec.words,
        limit=again.limit or spec.limit,
        rule=again.rule or spec.rule,
        yes_no=again.as_yes_no or spec.yes_no,
        photo=spec.photo and not again.as_yes_no,
        measures=tuple(
            replace(m, low=limits[m.key][0], high=limits[m.key][1]) if m.key in limits else m
            for m in measures
        ),
    )


PLACES = re.compile(r"\[(borders|polish|covered|held)\]")


def _filled(words: str, order: WorkOrder, design: Design, subject: str) -> str:
    """Put what order and design say into the words of a check, the subject excepted.

    Words with a place are translated here: once filled, no catalogue knows them any more.
    """
    if not PLACES.search(words):
        return words
    held = design.strengthener.held.strip() if design.strengthener else ""
    covered = dict(design.covered).get(subject, "")
    said = {
        "borders": _(BORDER_WORDS[order.borders]),
        "polish": _(POLISH_WORDS[order.polish]),
        "covered": _(COVERAGE_WORDS.get(covered, NOT_COVERED_SO_FAR)),
        "held": _(" (held by: %(held)s)") % {"held": held} if held else "",
    }
    return PLACES.sub(lambda place: said[place[1]], _(words))


def _planned(spec: CheckSpec, subject: str, order: WorkOrder, design: Design) -> PlannedCheck:
    key = f"{spec.number}@{spec.stage}"
    measures = _measures(spec, subject, order, design)
    pattern = _filled(spec.words, order, design, subject)
    return PlannedCheck(
        key=f"{key}:{subject}" if subject else key,
        number=spec.number,
        stage=spec.stage,
        subject=subject,
        words=pattern.replace("[subject]", subject),
        if_not=spec.if_not,
        yes_no=spec.yes_no,
        measures=measures,
        photo=spec.photo,
        keeps=spec.keeps,
        required=spec.required,
        rule=spec.rule,
        mark=spec.mark,
        limit=_limit(spec, measures),
        pattern=pattern,
        subject_kind=spec.subject,
        told=tuple(one for one in spec.told if not one.of or one.of in {m.key for m in measures}),
    )


def _limit(spec: CheckSpec, measures: tuple[Measure, ...]) -> str:
    """The limit in words, with the number that the design put in place of the usual one."""
    usual = {measure.key: measure.low for measure in spec.measures}
    limit = spec.limit
    for measure in measures:
        least = usual.get(measure.key)
        if least is None or measure.low is None or measure.low == least:
            continue
        for said in (f"{least:.1f} mm", f"{least:g} mm"):
            limit = limit.replace(said, f"{measure.low:g} mm")
    return limit


def _measures(
    spec: CheckSpec, subject: str, order: WorkOrder, design: Design
) -> tuple[Measure, ...]:
    asked = []
    for measure in spec.measures:
        if not measure.from_design:
            asked.append(measure)
            continue
        limit = DESIGN_LIMITS.get(measure.from_design)
        if limit is None:
            raise ValueError(f"Nobody knows the limit “{measure.from_design}”.")
        decided = limit(measure, order, design, subject)
        if decided is not None:
            asked.append(decided)
    return tuple(asked)
