"""Judging what was entered: inclusive limits, missing parts, and how bracing is measured."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cases.domain.checks import RULE_WORDS, RULES, Answer, Judgement, Measure, PlannedCheck, judge
from cases.domain.design import BlockOutMethod, Clasp, Design, WorkOrder
from cases.domain.route import default_template, grow

DESIGN = Design(
    arch="lower",
    missing=frozenset({46}),
    replaced=frozenset({46}),
    clasps=(Clasp(44, 0.9, 0.25, 9.5), Clasp(47)),
    bar=True,
    blocked=frozenset({(44, "lingual")}),
    method="plaster",
)


def _checks(method: BlockOutMethod = "plaster") -> dict[str, PlannedCheck]:
    route = grow(default_template(), WorkOrder(), replace(DESIGN, method=method))
    return {check.key: check for stage in route.stages for check in stage.checks}


PLASTER, COPY = _checks(), _checks("wax-then-copy")


def _number(check: PlannedCheck, **values: float) -> Judgement:
    yes = True if check.yes_no else None
    return judge(check, Answer(yes=yes, values=values, photos=1, words=_told(check)), {})


def _told(check: PlannedCheck) -> dict[str, str]:
    return {one.key: (one.choices or ("Test wash",))[0] for one in check.told}


# -- limits ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("relief", "state"),
    [(0.24, "failed"), (0.25, "passed"), (0.4, "passed"), (0.5, "passed"), (0.51, "failed")],
)
def test_limits_are_inclusive(relief: float, state: str) -> None:
    assert _number(PLASTER["16@block-out:44 lingual"], relief=relief).state == state


@pytest.mark.parametrize(("arm", "state"), [(9.0, "passed"), (8.99, "failed"), (15, "passed")])
def test_free_arm_may_be_half_a_millimetre_short(arm: float, state: str) -> None:
    assert _number(PLASTER["25@clasps:44"], arm=arm).state == state


def test_failed_limit_says_the_fact_the_limit_and_the_next_step() -> None:
    assert _number(PLASTER["25@clasps:44"], arm=8.5) == Judgement(
        "failed",
        "Free arm: 8.5 mm; it should be at least 9 mm. Shorter is stiffer: half a millimetre "
        "off ten is 17 % more force.",
    )


def test_failed_limit_of_a_gauge_says_the_gauge() -> None:
    judged = _number(PLASTER["23@clasps:44"], gauge=0.5)

    assert judged.state == "failed"
    assert "it should be 0.25 mm. Move the tip." in judged.sentence


def test_every_failed_number_speaks() -> None:
    judged = _number(PLASTER["26@clasps:44"], off=0.2, length=6)

    assert "Off the ridge: 0.2 mm; it should be 0.5–1 mm." in judged.sentence
    assert "Length of the tail: 6 mm; it should be at least 8 mm." in judged.sentence


@pytest.mark.parametrize(
    ("minutes", "state", "concession"),
    [
        (15, "passed", True),
        (15.5, "failed", True),
        (30, "failed", True),
        (31, "failed", False),
    ],
)
def test_old_alginate_is_conceded_up_to_half_an_hour_and_never_over(
    minutes: float, state: str, concession: bool
) -> None:
    judged = _number(PLASTER["5@pour"], minutes=minutes)

    assert (judged.state, judged.concession) == (state, concession)
    assert judged.sentence.endswith("cannot be accepted by a concession.") is not concession


def test_number_below_what_can_be_accepted_is_refused_a_concession() -> None:
    measure = Measure("edge", "Edge", "mm", low=2.0, refuse_low=1.0)
    check = replace(PLASTER["13@survey:44"], measures=(measure,))

    assert _number(check, edge=1.0).concession
    assert not _number(check, edge=0.9).concession


def test_kept_value_passes_whatever_it_is() -> None:
    judged = _number(PLASTER["12@survey:44"], line=5.4)

    assert judged == Judgement("passed", "Cusp tip to the survey line: 5.4 mm. In order.")


# -- yes, no and what is missing -------------------------------------------------------------


def test_no_fails_with_the_bench_words() -> None:
    judged = judge(PLASTER["37@flask-upper"], Answer(yes=False), {})

    assert judged == Judgement("failed", "No. Clean the rims.")


def test_no_without_words_still_says_the_next_step() -> None:
    check = PLASTER["50@pack-out"]

    assert check.if_not == ""
    assert judge(check, Answer(yes=False), {}).sentence == (
        "No. Mend it and check again, send it back, or ask for a concession."
    )


def test_no_fails_though_a_photograph_is_missing() -> None:
    assert judge(PLASTER["1@receive"], Answer(yes=False), {}).state == "failed"


def test_bad_number_fails_though_the_answer_is_missing() -> None:
    assert judge(PLASTER["42@bite"], Answer(values={"pin": 0.6}), {}).state == "failed"


@pytest.mark.parametrize(
    ("key", "answer", "sentence"),
    [
        ("37@flask-upper", Answer(), "Still to do: answer yes or no."),
        ("1@receive", Answer(yes=True), "Still to do: take a photograph."),
        (
            "28@bar:bar",
            Answer(values={"off": 0.7}),
            "Still to do: answer yes or no, enter “Acrylic to come all round” in mm.",
        ),
        (
            "40@pack",
            Answer(
                values={"powder": 24, "liquid": 10, "minutes": 12, "press": 3},
                words={"unit": "bar", "read": "at the gauge"},
            ),
            "Still to do: enter “Trial closings”.",
        ),
    ],
)
def test_check_stays_open_and_says_what_is_missing(key: str, answer: Answer, sentence: str) -> None:
    assert judge(PLASTER[key], answer, {}) == Judgement("open", sentence)


def test_whole_answer_passes() -> None:
    assert judge(PLASTER["1@receive"], Answer(yes=True, photos=1), {}) == Judgement(
        "passed", "In order."
    )


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_value_that_is_no_number_is_refused(value: float) -> None:
    with pytest.raises(ValueError, match="should be a number"):
        judge(PLASTER["12@survey:44"], Answer(values={"line": value}), {})


def test_unknown_rule_is_refused() -> None:
    with pytest.raises(ValueError, match="rule “luck”"):
        judge(replace(PLASTER["12@survey:44"], rule="luck"), Answer(), {})


def test_every_rule_has_words() -> None:
    assert set(RULE_WORDS) == set(RULES)


# -- wax and dough ---------------------------------------------------------------------------


@pytest.mark.parametrize(("thickest", "warned"), [(10.0, False), (10.1, True)])
def test_very_thick_wax_passes_with_a_word_to_the_bath(thickest: float, warned: bool) -> None:
    judged = _number(PLASTER["34@wax"], plate=2.5, metal=1.3, thickest=thickest)

    assert judged.state == "passed"
    assert ("Warn the bath" in judged.sentence) is warned


def test_thin_wax_fails_though_it_is_thick_elsewhere() -> None:
    judged = _number(PLASTER["34@wax"], plate=2.4, metal=1.3, thickest=12)

    assert judged.state == "failed"
    assert "Thinnest place of the plate: 2.4 mm" in judged.sentence


def test_dough_says_its_ratio() -> None:
    judged = _number(PLASTER["40@pack"], powder=24, liquid=10, minutes=12, closings=2, press=3)

    words = "Press reading: 3 bar, at the gauge. 2.40 g to 1 ml. Compare with the maker's label."
    assert judged == Judgement("passed", words)


@pytest.mark.parametrize("part", ["powder", "liquid"])
def test_dough_half_weighed_is_open(part: str) -> None:
    assert _number(PLASTER["40@pack"], **{part: 24}).state == "open"


def test_dough_without_liquid_fails() -> None:
    assert _number(PLASTER["40@pack"], powder=24, liquid=0).state == "failed"


def test_one_trial_closing_is_too_few() -> None:
    judged = _number(PLASTER["40@pack"], powder=24, liquid=10, minutes=12, closings=1, press=3)

    assert judged.state == "failed"
    assert "Trial closings: 1; it should be at least 2." in judged.sentence


# -- bracing ---------------------------------------------------------------------------------

LINE = {"12@survey:44": {"line": 5.4}, "12@survey:47": {"line": 6.0}}


def _edge(stage: str, edge: float) -> Judgement:
    return judge(COPY[f"30@{stage}:44"], Answer(values={"edge": edge}), LINE)


@pytest.mark.parametrize(
    ("stage", "edge", "expected"),
    [
        ("wax", 4.4, Judgement("passed", "1 mm above the line. Enough.")),
        ("wax", 4.41, Judgement(
            "failed", "0.99 mm above the line. Finishing takes that. Add wax.")),
        ("wax", 5.0, Judgement(
            "failed", "0.4 mm above the line. Finishing takes that. Add wax.")),
        ("wax", 5.4, Judgement("failed", "0 mm above the line. Finishing takes that. Add wax.")),
        ("wax", 6.2, Judgement(
            "failed", "Bracing behind 44 is 0.8 mm below the survey line. Add wax, or ask for a "
            "concession.", binding=True)),
        ("finish", 4.9, Judgement("passed", "0.5 mm above the line. Enough.")),
        ("finish", 5.0, Judgement(
            "failed", "0.4 mm above the line; at least 0.5 mm should be left. Send it back, or "
            "ask for a concession.")),
        ("inspect", 5.1, Judgement("passed", "0.3 mm above the line. Enough.")),
        ("inspect", 5.2, Judgement(
            "failed", "0.2 mm above the line; at least 0.3 mm should be left. Send it back, or "
            "ask for a concession.")),
        ("inspect", 5.5, Judgement(
            "failed", "Bracing behind 44 is 0.1 mm below the survey line. Send it back, or ask "
            "for a concession.", binding=True)),
    ],
)  # fmt: skip
def test_bracing_is_the_kept_value_less_the_measured(
    stage: str, edge: float, expected: Judgement
) -> None:
    assert _edge(stage, edge) == expected


def test_bracing_uses_the_line_of_its_own_tooth() -> None:
    judged = judge(COPY["30@wax:47"], Answer(values={"edge": 4.9}), LINE)

    assert judged.sentence == "1.1 mm above the line. Enough."


def test_bracing_without_the_kept_line_fails_and_may_be_conceded() -> None:
    judged = judge(COPY["30@wax:44"], Answer(values={"edge": 4.4}), {})

    assert judged == Judgement(
        "failed",
        "Cusp tip to survey line behind 44 was not kept at the survey. Measure it there first, "
        "or ask for a concession.",
    )


def test_bracing_not_yet_measured_is_open() -> None:
    assert judge(COPY["30@wax:44"], Answer(), LINE).state == "open"


def test_bracing_at_the_wax_without_a_band_keeps_a_caliper_height_too() -> None:
    check = PLASTER["30@wax:47"]

    judged = judge(check, Answer(values={"edge": 4.5}), LINE)

    assert judged == Judgement("open", "Still to do: enter “Caliper height of the bracing” in mm.")
    assert check.keeps
    passed = judge(check, Answer(values={"edge": 4.5, "caliper": 7.0}), LINE)
    assert passed == Judgement("passed", "1.5 mm above the line. Enough.")


@pytest.mark.parametrize(
    ("stage", "band", "state", "binding"),
    [
        ("finish", 0.5, "passed", False),
        ("finish", 0.4, "failed", False),
        ("inspect", 0.3, "passed", False),
        ("inspect", 0.2, "failed", False),
        ("inspect", 0.0, "failed", False),
        ("finish", -0.1, "failed", True),
        ("inspect", -0.1, "failed", True),
    ],
)
def test_bracing_without_a_master_is_read_from_the_band(
    stage: str, band: float, state: str, binding: bool
) -> None:
    judged = judge(PLASTER[f"30@{stage}:44"], Answer(values={"band": band}), {})

    assert (judged.state, judged.binding) == (state, binding)


AT_WAX = {**LINE, "30@wax:47": {"edge": 4.6, "caliper": 7.0}}


@pytest.mark.parametrize("stage", ["finish", "inspect"])
@pytest.mark.parametrize(
    ("caliper", "expected"),
    [
        (6.8, Judgement("passed", "0.2 mm lost since the wax. Enough is left.")),
        (6.5, Judgement("passed", "0.5 mm lost since the wax. Enough is left.")),
        (7.1, Judgement("passed", "0 mm lost since the wax. Enough is left.")),
        (6.4, Judgement(
            "failed", "0.6 mm of bracing behind 47 was lost since the wax; at most 0.5 mm may "
            "be. Send it back, or ask for a concession.")),
    ],
)  # fmt: skip
def test_bracing_without_a_band_may_lose_half_a_millimetre(
    stage: str, caliper: float, expected: Judgement
) -> None:
    assert judge(PLASTER[f"30@{stage}:47"], Answer(values={"caliper": caliper}), AT_WAX) == expected


def test_bracing_lost_down_below_the_line_always_needs_a_concession() -> None:
    judged = judge(PLASTER["30@inspect:47"], Answer(values={"caliper": 5.5}), AT_WAX)

    assert judged == Judgement(
        "failed",
        "Bracing behind 47 is 0.1 mm below the survey line. Send it back, or ask for a concession.",
        binding=True,
    )


def test_bracing_conceded_low_at_the_wax_still_speaks_at_the_end() -> None:
    kept = {**LINE, "30@wax:47": {"edge": 6.5, "caliper": 7.0}}

    judged = judge(PLASTER["30@inspect:47"], Answer(values={"caliper": 7.0}), kept)

    assert (judged.state, judged.binding) == ("failed", True)


def test_bracing_without_the_height_of_the_wax_fails() -> None:
    judged = judge(PLASTER["30@finish:47"], Answer(values={"caliper": 6.0}), LINE)

    assert judged.state == "failed"
    assert "was not kept" in judged.sentence


@pytest.mark.parametrize("key", ["30@finish:44", "30@finish:47"])
def test_bracing_without_a_master_not_yet_measured_is_open(key: str) -> None:
    assert judge(PLASTER[key], Answer(), AT_WAX).state == "open"


@given(line=st.decimals(0, 15, places=1), edge=st.decimals(0, 15, places=1))
def test_bracing_at_the_wax_passes_exactly_from_the_reserve_on(line: float, edge: float) -> None:
    kept = {"12@survey:44": {"line": float(line)}}

    judged = judge(COPY["30@wax:44"], Answer(values={"edge": float(edge)}), kept)

    assert (judged.state == "passed") is (line - edge >= 1)
    assert judged.binding is (line < edge)


# -- all checks ------------------------------------------------------------------------------


@pytest.mark.parametrize("checks", [PLASTER, COPY], ids=["plaster", "copy"])
@pytest.mark.parametrize("value", [0.0, 1.0, 99.0, -3.25])
def test_every_check_says_one_short_text_whatever_is_entered(
    checks: dict[str, PlannedCheck], value: float
) -> None:
    kept = {key: {"line": 5.4, "edge": 4.0, "caliper": 7.0} for key in checks}
    for check in checks.values():
        for yes in (None, True, False):
            values = {measure.key: value for measure in check.measures}
            judged = judge(check, Answer(yes=yes, values=values, photos=1), kept)
            assert 5 <= len(judged.sentence) <= 300, check.key
            assert judged.sentence.endswith("."), check.key
            assert judged.sentence[0].isupper() or judged.sentence[0].isdigit(), check.key


@pytest.mark.parametrize("check", PLASTER.values(), ids=lambda check: check.key)
def test_empty_answer_leaves_every_check_open(check: PlannedCheck) -> None:
    assert judge(check, Answer(), {}).state == "open"


@pytest.mark.parametrize(("opened", "acceptable"), [(0.6, True), (1.0, True), (1.1, False)])
def test_pin_open_over_one_millimetre_is_never_accepted(opened: float, acceptable: bool) -> None:
    judgement = judge(PLASTER["42@bite"], Answer(yes=True, values={"pin": opened}), {})

    assert (judgement.state, judgement.concession) == ("failed", acceptable)


# -- words beside a number --------------------------------------------------------------------

MIX = {"powder": 22.0, "liquid": 10.0, "minutes": 12.0, "closings": 2.0, "press": 40.0}
BAR = {"unit": "bar", "read": "at the gauge"}


def test_press_reading_is_kept_with_its_unit_and_where_it_is_read() -> None:
    judged = judge(PLASTER["40@pack"], Answer(values=MIX, words=BAR), {})

    assert judged.state == "passed"
    assert "Press reading: 40 bar, at the gauge." in judged.sentence
    assert "2.20 g to 1 ml" in judged.sentence


@pytest.mark.parametrize("missing", ["unit", "read"])
def test_press_reading_without_unit_or_place_stays_open(missing: str) -> None:
    words = {key: said for key, said in BAR.items() if key != missing}

    judged = judge(PLASTER["40@pack"], Answer(values=MIX, words=words), {})

    assert judged.state == "open"
    assert ("Unit" if missing == "unit" else "Where it is read") in judged.sentence


@pytest.mark.parametrize("press", [0.0, 1.0, 3500.0, 1e6])
def test_press_reading_is_never_judged(press: float) -> None:
    judged = judge(PLASTER["40@pack"], Answer(values={**MIX, "press": press}, words=BAR), {})

    assert judged.state == "passed"


def test_disinfectant_is_named_beside_its_minutes() -> None:
    check = PLASTER["50@pack-out"]

    nameless = judge(check, Answer(yes=True, values={"minutes": 10.0}), {})
    named = judge(check, Answer(True, {"minutes": 10.0}, words={"agent": "Test wash"}), {})
    short = judge(check, Answer(True, {"minutes": 9.0}, words={"agent": "Test wash"}), {})

    assert nameless.state == "open"
    assert "Which disinfectant" in nameless.sentence
    assert named.sentence.startswith("Wet with the disinfectant: 10 min, Test wash.")
    assert short.state == "failed"


def test_words_survive_the_way_through_json() -> None:
    check = PLASTER["40@pack"]

    assert PlannedCheck.from_json(check.to_json()) == check
    stored = check.to_json()
    del stored["told"]
    assert PlannedCheck.from_json(stored).told == ()


# -- the mix ---------------------------------------------------------------------------------

RESIN = {"ratio_low": 2.0, "ratio_high": 2.4, "dough_from": 6.0, "dough_until": 15.0}
"""A resin of the tests; its numbers are nobody's."""


def _mix(
    resin: dict[str, float], clock: dict[str, float] | None = None, **values: float
) -> Judgement:
    check = PLASTER["40@pack"]
    told = {"minutes": 10.0, "closings": 2.0, "press": 90.0, "liquid": 10.0, "powder": 22.0}
    answer = Answer(values=told | values, words=_told(check))
    return judge(check, answer, {"resin": resin, "clock": clock or {}})


@pytest.mark.parametrize(
    ("powder", "state"),
    [(19.9, "failed"), (20.0, "passed"), (23.0, "passed"), (24.0, "passed"), (24.1, "failed")],
)
def test_ratio_is_judged_against_the_resin_of_the_lab(powder: float, state: str) -> None:
    assert _mix(RESIN, powder=powder).state == state


@pytest.mark.parametrize(
    ("minutes", "state"), [(5.9, "failed"), (6.0, "passed"), (15.0, "passed"), (15.1, "failed")]
)
def test_last_closing_is_judged_against_the_dough_times(minutes: float, state: str) -> None:
    assert _mix(RESIN, minutes=minutes).state == state


@pytest.mark.parametrize(
    ("clock", "values", "sentence"),
    [
        (
            {}, {"powder": 18.0, "minutes": 20.0},
            "Powder to liquid: 1.8 g to 1 ml; the maker asks for 2–2.4 g to 1 ml. "
            "From mix to last closing: 20 min; the maker asks for 6–15 min. "
            "Outside the maker's range: mix again.",
        ),
        (
            {}, {"powder": 50.0, "closings": 1.0},
            "Trial closings: 1; it should be at least 2. "
            "Powder to liquid: 5 g to 1 ml; the maker asks for 2–2.4 g to 1 ml. "
            "Outside the maker's range: mix again.",
        ),
        # Too few closings alone are no reason to mix again.
        (
            {}, {"closings": 1.0},
            "Trial closings: 1; it should be at least 2. "
            "Close it for trial again while it is dough.",
        ),
        (
            {"minutes": 4.5}, {"minutes": 12.0},
            "From mix to last closing: 12 min entered, 4.5 min by the clock. "
            "Enter what is true; where the clock was pressed too late, a colleague accepts it.",
        ),
    ],
)  # fmt: skip
def test_wrong_mix_says_every_fact_with_its_range_and_the_next_step(
    clock: dict[str, float], values: dict[str, float], sentence: str
) -> None:
    judged = _mix(RESIN, clock, **values)

    assert judged.sentence == sentence
    assert judged.concession


@pytest.mark.parametrize(("entered", "state"), [(8.0, "passed"), (12.0, "passed"), (7.9, "failed")])
def test_minutes_are_held_against_the_clock_of_the_dough(entered: float, state: str) -> None:
    assert _mix(RESIN, {"minutes": 10.0}, minutes=entered).state == state


def test_good_mix_says_what_it_was_held_against() -> None:
    assert "2.2 g to 1 ml; the maker asks for 2–2.4 g to 1 ml." in _mix(RESIN).sentence


def test_mix_of_an_unknown_resin_is_left_to_the_label() -> None:
    judged = _mix({}, powder=50.0, minutes=90.0)

    assert judged.state == "passed"
    assert "5.00 g to 1 ml. Compare with the maker's label." in judged.sentence


def test_one_known_limit_is_judged_and_the_other_left_to_the_label() -> None:
    assert _mix({"dough_until": 15.0}, minutes=16.0).state == "failed"
    words = _mix({"dough_until": 15.0}).sentence
    assert "Compare with the maker's label." in words
    assert "the maker asks for at most 15 min." in words


@pytest.mark.parametrize("press", [0.0, 3.0, 3500.0, 1e6])
def test_nothing_is_decided_by_the_press_reading(press: float) -> None:
    assert _mix(RESIN, press=press).state == "passed"


def test_wrong_ratio_speaks_before_the_rest_is_entered() -> None:
    check = PLASTER["40@pack"]
    answer = Answer(values={"powder": 30.0, "liquid": 10.0})

    assert judge(check, answer, {"resin": RESIN}).state == "failed"
