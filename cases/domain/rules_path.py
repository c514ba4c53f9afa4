"""PATH-1 to PATH-6: the tilt of the cast, and what it can and cannot do."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from cases.domain import teeth
from cases.domain.design_parts import SIDES
from cases.domain.limit import Limit
from cases.domain.rule_facts import Facts, facing
from cases.domain.rule_sources import COMMON, JUDGEMENT, MCCRACKEN, TEACHING_BOOK
from cases.domain.rule_spec import Rule, RuleLimits, Trip
from cases.domain.subjects import side_towards
from cases.domain.words import N_

MARKS_MISSING: Final = N_(
    "The three marks of the tilt are not on the cast. Survey lines mean nothing without them: "
    "mark the three points."
)
GAUGE_HERE: Final = N_("Say what the gauge shows here at the tilt, or “none”.")


def _tilt(facts: Facts, limits: RuleLimits) -> Iterator[Trip]:
    tilt, most = facts.design.survey.tilt_deg, limits["PATH-1"]["tilt"]
    if tilt is not None and tilt > most:
        yield Trip(facts={"tilt": tilt, "most": most})


def _hold_at_level(facts: Facts, limits: RuleLimits) -> Iterator[Trip]:
    """Find tips with hold at the tilt only, by the clasp's own entry or that of its face.

    Where the two contradict each other, the lesser counts: no tip finds more than its face has.
    """
    seen = {(found.tooth, found.side): found for found in facts.design.survey.undercuts}
    for clasp in facts.clasps:
        face = seen.get((clasp.tooth, clasp.face))
        undercut, level = clasp.undercut_mm, [clasp.level_mm]
        if face is not None:
            undercut = face.step_mm if undercut is None else undercut
            level.append(face.level_mm)
        looked = [mm for mm in level if mm is not None]
        if undercut and looked and min(looked) <= 0:
            by_the_face = clasp.level_mm is None
            entry = f"flat {clasp.tooth} {clasp.face}" if by_the_face else f"level {clasp.tooth}"
            told = {"tooth": clasp.tooth, "undercut": undercut}
            yield Trip(str(clasp.tooth), told, beside=((entry, ""),))


def _facing(facts: Facts, limits: RuleLimits) -> Iterator[Trip]:
    """A tilt can close the lesser of two facing undercuts; then the other is blocked out."""
    steps = facts.undercuts
    for base in facts.bases:
        walls = facing(base)
        if walls is None or any(teeth.is_anterior(tooth) for tooth in base.teeth):
            continue
        less, more = sorted(walls, key=lambda face: steps.get(face, 0.0))
        if 0 < steps.get(less, 0.0) < steps.get(more, 0.0):
            yield Trip(base.name, {"tooth": less[0], "other": more[0]})


def _front_gap(facts: Facts, limits: RuleLimits) -> Iterator[Trip]:
    """Undercut walls beside a replaced front tooth, where what is blocked out would be seen."""
    least = limits["PATH-4"]["from"]
    for base in facts.bases:
        ends = (
            (base.right_wall, base.teeth[0], True),
            (base.left_wall, base.teeth[-1], False),
        )
        for wall, neighbour, looks_left in ends:
            if wall is None or not teeth.is_anterior(neighbour):
                continue
            side = side_towards(wall, looks_left)
            step = facts.undercuts.get((wall, side), 0.0)
            if step >= least:
                yield Trip(f"{wall} {side}", {"tooth": wall, "side": side, "step": step})


def _no_tilt(facts: Facts, limits: RuleLimits) -> Iterator[Trip]:
    survey = facts.design.survey
    if not facts.new_piece:
        return
    if survey.tilt_deg is None:
        yield Trip(beside=(("survey", ""),))
    elif not survey.marked:
        yield Trip(words=MARKS_MISSING, beside=(("marked", ""),))


def _not_surveyed(facts: Facts, limits: RuleLimits) -> Iterator[Trip]:
    """Find the faces by which block-out, hold and bracing are judged, and nobody looked at."""
    if not facts.new_piece:
        return
    seen = {(found.tooth, found.side) for found in facts.design.survey.undercuts}
    wanted = set(facts.walls)
    for clasp in facts.clasps:
        wanted |= {(clasp.tooth, clasp.face), (clasp.tooth, clasp.bracing_face)}
    for tooth in teeth.teeth_of_arch(facts.design.arch):
        sides = tuple(s for s in SIDES if (tooth, s) in wanted and (tooth, s) not in seen)
        if sides:
            yield Trip(
                str(tooth),
                {"tooth": tooth, "sides": sides},
                beside=tuple((f"step {tooth} {side}", GAUGE_HERE) for side in sides),
            )


RULES: tuple[Rule, ...] = (
    Rule(
        "PATH-1", "advice",
        N_(
            "The cast is tilted by %(tilt)g°, more than %(most)g°. Start level: a small tilt may "
            "even out undercuts on the gap walls, a large one only moves them."
        ),
        f"{MCCRACKEN}; the number: {JUDGEMENT}", _tilt,
        (Limit("tilt", 10, "°", N_("Most tilt"), 3, 20),),
    ),
    Rule(
        "PATH-2", "concession",
        N_(
            "The tip at %(tooth)s has %(undercut)g mm at the tilt and nothing at level. Tilting "
            "the cast does not make hold, for food pulls straight up: find an undercut that is "
            "there at level too, or ask for a concession."
        ),
        f"{MCCRACKEN}; {TEACHING_BOOK}; {JUDGEMENT}", _hold_at_level,
    ),
    Rule(
        "PATH-3", "advice",
        N_(
            "The wall at %(tooth)s is undercut less than the one at %(other)s. Tilt towards "
            "%(tooth)s and block out %(other)s: put the undercut where acrylic, not a visible gap, "
            "will fill the space."
        ),
        COMMON, _facing,
    ),
    Rule(
        "PATH-4", "advice",
        N_(
            "%(tooth)s is undercut by %(step)g mm on its %(side)s side, beside a front gap. What "
            "is blocked out here becomes a dark gap: tilt to close it, or tell the dentist."
        ),
        MCCRACKEN, _front_gap,
        (Limit("from", 0.25, "mm", N_("From this step on"), 0.25, 1.0),),
        question=12,
    ),
    Rule(
        "PATH-5", "cannot",
        N_(
            "No tilt is recorded. Survey lines mean nothing without the tilt: enter it, 0 for "
            "level, and mark the three points."
        ),
        MCCRACKEN, _no_tilt,
    ),
    # The bench refuses a design without a tilt (PATH-5), for then no finding means anything. One
    # face that nobody read may have its reason, such as a chipped cast: a person answers for it.
    Rule(
        "PATH-6", "concession",
        N_(
            "The gauge has not been read at %(tooth)s: %(sides)s. Block-out, hold and bracing are "
            "judged by it: survey it at the tilt, or ask for a concession."
        ),
        f"{COMMON}; which faces: {JUDGEMENT}", _not_surveyed,
    ),
)  # fmt: skip
