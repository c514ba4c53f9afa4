"""The design rules: each with a pair of designs, its source, its limits, and their review."""

from __future__ import annotations

import json
import re
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cases.domain.blockout import ASK_FOR_A_COPY
from cases.domain.blockout_findings import ODD_TAPER, PARALLEL
from cases.domain.check_data import CHECKS
from cases.domain.clasp_findings import FIRST_NOT_SAID, TIP_FIRST
from cases.domain.claspforecast import judged, whole_piece
from cases.domain.design import BLOCK_OUT_METHODS, Design, WorkOrder
from cases.domain.design_parts import (
    SIDES,
    STEPS_MM,
    Clasp,
    RuleConcession,
    Survey,
    Undercut,
    concession_from_json,
)
from cases.domain.design_review import (
    DECIDING,
    RULES,
    advised_method,
    blocking,
    review,
    wanted_of,
)
from cases.domain.design_slips import flaws
from cases.domain.rule_facts import Facts
from cases.domain.rule_spec import SEVERITIES, say
from cases.domain.subjects import free_ends
from cases.domain.teeth import teeth_of_arch
from tests.domain.rule_designs import FREE, GAP, bar, found, of, wire
from tests.domain.rule_pairs import PAIRS

# The rules of the bench, by their ids.
BENCH = (
    *(f"PATH-{n}" for n in range(1, 7)),
    *(f"BLK-{n}" for n in range(16)),
    *(f"CLP-{n}" for n in range(1, 15)),
    "SUP-1", "SUP-2",
    *(f"BAR-{n}" for n in range(1, 6)),
    "THK-1", "THK-2",
    *(f"BOR-{n}" for n in range(1, 6)),
    *(f"TTH-{n}" for n in range(1, 6)),
    "IMM-1", "IMM-2", "AGR-1", "AGR-2", "ALL-1",
)  # fmt: skip


def spoken(facts: Facts, rule: str) -> set[tuple[str, str]]:
    return {(one.severity, one.subject) for one in review(facts) if one.rule == rule}


def test_every_rule_of_the_bench_is_there_in_its_order() -> None:
    assert tuple(RULES) == BENCH


def test_every_rule_has_a_pair() -> None:
    assert {pair[0] for pair in PAIRS} == set(RULES)


@pytest.mark.parametrize(
    ("rule", "severity", "subject", "trips", "does_not"),
    [pytest.param(*pair, id=f"{pair[0]}-{n}") for n, pair in enumerate(PAIRS)],
)
def test_rule_speaks_and_just_does_not(
    rule: str, severity: str, subject: str, trips: Facts, does_not: Facts
) -> None:
    assert (severity, subject) in spoken(trips, rule)
    assert (severity, subject) not in spoken(does_not, rule)


@pytest.mark.parametrize("facts", [side for pair in PAIRS for side in pair[3:]])
def test_every_sentence_is_whole(facts: Facts) -> None:
    for finding in review(facts):
        assert re.search(r"[.?]$", finding.sentence)
        assert "%(" not in finding.sentence
        assert finding.source == RULES[finding.rule].source


def test_what_the_bracing_does_on_the_way_in_is_judged_in_words() -> None:
    said = {
        first: [one.pattern for one in review(wire(braces_first=first)) if one.rule == "CLP-6"]
        for first in (None, False, True)
    }

    assert said == {None: [FIRST_NOT_SAID], False: [TIP_FIRST], True: []}


@pytest.mark.parametrize(
    ("taper_deg", "pattern"),
    [(None, PARALLEL), (1.9, ODD_TAPER), (2.0, ""), (6.0, ""), (6.1, ODD_TAPER)],
)
def test_a_taper_is_said_to_be_on_purpose_or_odd(taper_deg: float | None, pattern: str) -> None:
    blocked = frozenset({(44, "distal")})
    found = review(of(GAP, blocked=blocked, method="plaster", taper_deg=taper_deg))

    said = next(one.pattern for one in found if one.rule == "BLK-13")
    assert said == (pattern or RULES["BLK-13"].words)


def test_a_lab_may_want_a_reserve_of_bracing_from_the_start() -> None:
    low = wire(bracing_mm=0.4)

    assert spoken(low, "CLP-6") == set()
    strict = review(low, {"CLP-6": {"above_line": 0.5}})
    assert [(one.severity, one.subject) for one in strict if one.rule == "CLP-6"] == [
        ("advice", "44")
    ]


# E 160-200 GPa, yield 1100-1760 MPa, 0.9 mm round, 0.25 mm: the stress is 3·E·d·u / (2·L²).
@pytest.mark.parametrize(
    ("arm_mm", "says"),
    [(5.4, "will stay bent"), (5.6, "may stay bent"), (7.8, "may stay bent"), (7.9, "comes near")],
)
def test_how_far_a_wire_goes_past_its_yield_is_said(arm_mm: float, says: str) -> None:
    findings = review(wire(free_arm_mm=arm_mm))

    assert says in next(one.sentence for one in findings if one.rule == "CLP-2")


@pytest.mark.parametrize(("undercut_mm", "question"), [(0.0, 11), (0.25, None)])
def test_a_tooth_without_undercut_leads_to_the_question_of_hold(
    undercut_mm: float, question: int | None
) -> None:
    findings = review(wire(undercut_mm=undercut_mm, free_arm_mm=15.0))

    assert next(one.question for one in findings if one.rule == "CLP-3") == question


@pytest.mark.parametrize(("held", "kennedy"), [({38}, "III"), (set(), "II")])
def test_a_third_molar_counts_in_the_class_where_it_holds_something(
    held: set[int], kennedy: str
) -> None:
    gap = frozenset({36, 37})

    for how in ("rests", "stops", "abutments"):
        facts = of(GAP, missing=gap, replaced=gap, **{how: frozenset(held)})
        assert str(facts.kennedy) == kennedy
        # What bounds the gap for the class bounds it for the checks as well.
        assert ("left pad" in free_ends(facts.design)) == (kennedy == "II")


@pytest.mark.parametrize(
    ("room_mm", "offers"), [(1.0, "a wire rest, which"), (1.5, "a wire rest or an acrylic stop")]
)
def test_a_stop_of_acrylic_needs_more_room_than_a_rest(room_mm: float, offers: str) -> None:
    crossed = replace(FREE.clasps[0], room_mm=room_mm)
    findings = review(of(GAP, clasps=(crossed,)))

    assert offers in next(one.sentence for one in findings if one.rule == "SUP-2")


@pytest.mark.parametrize(("thick_mm", "says"), [(10.0, "choose a long"), (10.1, "tell the bath")])
def test_very_thick_acrylic_is_told_to_the_bath(thick_mm: float, says: str) -> None:
    findings = review(of(FREE, {"thickest_mm": thick_mm}))

    assert says in next(one.sentence for one in findings if one.rule == "THK-2")


def test_findings_stand_by_severity_then_along_the_arch() -> None:
    bad = replace(FREE.clasps[0], wraps=False, gauge="19"), replace(FREE.clasps[1], wraps=False)
    findings = review(of(FREE, clasps=bad[::-1]))

    ranks = [SEVERITIES.index(one.severity) for one in findings]
    assert ranks == sorted(ranks)
    assert [one.subject for one in findings if one.rule == "CLP-5"] == ["44", "34"]
    assert findings[0].rule == "CLP-13"


def test_a_concession_passes_its_own_rule_at_its_own_place() -> None:
    unbraced = wire(bracing="none")
    given = RuleConcession("CLP-6", "44", "no-room", by=7)

    def blocked(*concessions: RuleConcession) -> list[str]:
        design = replace(unbraced.design, concessions=concessions)
        return [one.rule for one in blocking(review(Facts(design)))]

    assert blocked() == ["CLP-6"]
    assert blocked(given) == []
    for other in ({"subject": "34"}, {"rule": "CLP-5"}, {"by": None}, {"reason": ""}):
        assert blocked(replace(given, **other)) == ["CLP-6"]


def test_a_concession_covers_only_what_the_rule_said_when_it_was_given() -> None:
    def open_with(below_mm: float, given: RuleConcession) -> bool:
        low = wire(bracing_mm=-below_mm)
        return bool(blocking(review(Facts(replace(low.design, concessions=(given,))))))

    (finding,) = blocking(review(wire(bracing_mm=-0.3)))
    given = finding.keep(RuleConcession("CLP-6", "44", "no-room", by=7))

    assert [open_with(mm, given) for mm in (0.3, 0.2, 0.8)] == [False, True, True]
    # What was kept before the sentence was kept with it covers as it did.
    assert not open_with(0.8, RuleConcession("CLP-6", "44", "no-room", by=7))


def test_what_a_rule_said_is_kept_with_the_concession_and_read_back() -> None:
    near = wire(joint_mm=5.5)
    (finding,) = blocking(review(near))
    kept = finding.keep(RuleConcession(finding.rule, finding.subject, "no-room", by=7))
    stored = json.loads(json.dumps(replace(near.design, concessions=(kept,)).to_json()))

    assert Design.from_json(stored).concessions == (kept,)
    assert say(kept.words, dict(kept.facts)) == finding.sentence
    # Several teeth come back as teeth, and an older design without what was said reads back.
    several = replace(kept, words="At %(teeth)s.", facts=(("teeth", (44, 45)),))
    assert say(several.words, dict(concession_from_json(several.to_json()).facts)) == "At 44, 45."
    old = concession_from_json({"rule": "CLP-12", "subject": "44", "reason": "so", "by": 7})
    assert (old.words, old.facts) == ("", ())


def test_what_is_refused_no_concession_passes() -> None:
    alone = replace(FREE.clasps[0], gauge="19")
    given = RuleConcession("CLP-13", "44", "no-room", by=7)

    findings = review(of(FREE, clasps=(alone, FREE.clasps[1]), concessions=(given,)))

    assert [one.rule for one in blocking(findings)] == ["CLP-13"]


def test_a_good_design_is_not_blocked() -> None:
    assert blocking(review(of(FREE))) == ()


def test_nothing_measured_says_only_what_is_missing() -> None:
    bare = replace(
        FREE, clasps=tuple(type(c)(c.tooth) for c in FREE.clasps), survey=type(FREE.survey)()
    )

    findings = review(Facts(bare))

    assert [(one.rule, one.subject) for one in blocking(findings)] == [
        ("PATH-5", ""), ("CLP-14", "44"), ("CLP-14", "34"), ("PATH-6", "44"), ("CLP-6", "44"),
        ("PATH-6", "34"), ("CLP-6", "34"),
    ]  # fmt: skip
    assert advised_method(Facts(bare)) is None


def test_teeth_are_said_as_the_reader_writes_them() -> None:
    finding = next(one for one in review(wire(wraps=False)) if one.rule == "CLP-5")

    assert finding.say(lambda tooth: f"LR{tooth % 10}") == finding.sentence.replace("44", "LR4")


@pytest.mark.parametrize("kind", ["adjustment", "repair", "addition"])
def test_mending_asks_nothing_of_a_cast_that_is_not_surveyed(kind: str) -> None:
    order = WorkOrder(kind=kind)  # type: ignore[arg-type]
    rules = {one.rule for one in review(of(GAP, {"order": order}))}

    assert not any(rule.startswith(("PATH", "BLK")) for rule in rules)


def test_advice_follows_the_limits_of_the_lab() -> None:
    shallow = of(GAP, survey=found((44, "distal", 0.5)))

    assert advised_method(shallow) == "plaster"
    assert advised_method(shallow, {"BLK-3": {"proximal": 0.25}}) == "copy"


def test_a_face_under_the_arm_or_away_from_the_acrylic_asks_for_no_block_out() -> None:
    # The tip needs its undercut; the mesial side of 44 touches 43; 44 buccal carries the arm.
    seen = found((44, "buccal", 1.0), (44, "mesial", 1.0), (43, "buccal", 1.0))

    assert advised_method(of(FREE, survey=seen)) is None


def test_wax_is_asked_for_once_more_where_the_cast_is_blocked_out() -> None:
    check = next(check for check in CHECKS if check.number == 17)

    assert check.stage == "block-out"
    assert "no wax left as block-out" in check.words
    assert "wax" not in BLOCK_OUT_METHODS


def test_a_bar_is_measured_by_the_same_table_as_a_clasp() -> None:
    assert [one.subject for one in review(bar(gauge="12")) if one.rule == "CLP-13"] == ["bar"]


ROWS = {"upper": teeth_of_arch("upper"), "lower": teeth_of_arch("lower")}


@st.composite
def designs(draw: st.DrawFn) -> Design:
    """Any design without a slip, as far as anybody has decided or measured it."""
    arch = draw(st.sampled_from(["upper", "lower"]))
    tooth = st.sampled_from(ROWS[arch])
    missing = draw(st.frozensets(tooth))
    step = st.sampled_from(STEPS_MM)
    faces = draw(st.dictionaries(st.tuples(tooth, st.sampled_from(SIDES)), step, max_size=12))
    there = [one for one in ROWS[arch] if one not in missing]
    clasps = draw(st.lists(st.sampled_from(there), unique=True, max_size=4)) if there else []
    return Design(
        arch=arch,  # type: ignore[arg-type]
        missing=missing,
        replaced=frozenset(one for one in missing if draw(st.booleans())),
        clasps=tuple(
            Clasp(
                one,
                wire_mm=draw(st.none() | st.floats(0.5, 1.5)),
                undercut_mm=draw(
                    st.none()
                    | st.sampled_from(
                        [depth for depth in STEPS_MM if depth <= faces.get((one, "buccal"), 1.0)]
                    )
                ),
                free_arm_mm=draw(st.none() | st.floats(1, 13)),
                tip=draw(st.sampled_from(["", "mesial", "distal"])),
            )
            for one in clasps
        ),
        survey=Survey(0.0, marked=True, undercuts=tuple(Undercut(*f, s) for f, s in faces.items())),
    )


@given(design=designs(), told=st.fixed_dictionaries({"fit_back": st.booleans()}))
def test_any_design_without_a_slip_is_reviewed(design: Design, told: dict[str, bool]) -> None:
    assert flaws(design) == ()

    findings = review(Facts(design, **told))

    ranks = [SEVERITIES.index(one.severity) for one in findings]
    assert ranks == sorted(ranks)
    assert all("%(" not in one.sentence for one in findings)
    spoken = {one.rule for one in findings}
    copy = advised_method(Facts(design, **told)) == "copy"
    assert copy == bool(spoken & ASK_FOR_A_COPY) == ("BLK-7" in spoken)


def test_block_out_is_shown_in_the_order_in_which_it_is_decided() -> None:
    """35 between gaps, undercut on both sides; a fit-back, facing walls and deep faces as well."""
    gaps = frozenset({34, 36})
    faces = found(
        (35, "mesial", 0.75), (35, "distal", 0.5), (33, "distal", 0.5), (37, "mesial", 0.5)
    )
    design = replace(GAP, missing=gaps, replaced=gaps, clasps=(), survey=faces)
    rules = [one.rule for one in review(Facts(design, fit_back=True)) if one.severity == "advice"]
    deciding = [rule for rule in rules if rule in DECIDING]

    assert deciding == sorted(deciding, key=DECIDING.index)
    assert deciding[0] == "BLK-6"
    assert {"BLK-4", "BLK-3", "BLK-5"} <= set(deciding)


def test_forecasts_are_judged_as_the_rules_of_the_lab_judge() -> None:
    facts = of(FREE)
    usual = facts.forecasts[44]
    limits = {"CLP-2": {"quiet_share": 0.3}, "CLP-4": {"least": 5.5}}

    changed = judged(usual, wanted_of(limits))
    whole = whole_piece(facts.forecasts.values(), wanted_of(limits))

    assert judged(usual, wanted_of(None)) == usual
    assert (usual.stays, changed.stays) == ("quiet", "near")
    assert whole is not None
    assert whole.verdict == "too-weak"
    said = {one.rule for one in review(facts, limits)}
    assert {"CLP-2", "CLP-4"} <= said
    assert not {"CLP-2", "CLP-4"} & {one.rule for one in review(facts)}
