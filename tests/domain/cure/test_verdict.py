"""Verdicts: stage by stage, never traded, and never better than the record is sure."""

from __future__ import annotations

import ast
import itertools
import re
from datetime import date
from math import exp, nan
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cases.domain.cure import verdict as verdicts
from cases.domain.cure.program import LONG, SHORT
from cases.domain.cure.verdict import Limits, Probe, assess
from cases.domain.cure.window import Window
from tests.domain.cure.test_dose import Points, bath_with_cut

LONG_STAGES, SHORT_STAGES = LONG.holds, SHORT.holds
CUT = [(m * 60.0, bath_with_cut(m)) for m in range(511)]


def run(*points: tuple[float, float], every: float = 1.0) -> Points:
    """Read a bath that follows these minutes and °C once every so many minutes."""
    found = []
    for n in range(int(points[-1][0] / every) + 1):
        minute = n * every
        for (from_m, from_c), (to_m, to_c) in itertools.pairwise(points):
            if from_m <= minute <= to_m:
                share = (minute - from_m) / (to_m - from_m)
                found.append((minute * 60, from_c + share * (to_c - from_c)))
                break
    return found


def codes(*args: object, **kwargs: object) -> set[str]:
    return {flag.code for flag in assess(*args, **kwargs).findings}


@pytest.mark.parametrize("program", [LONG, SHORT])
@pytest.mark.parametrize("every", [0.5, 1, 3, 5])
def test_a_program_run_as_written_is_complete(program: object, every: float) -> None:
    points = program.points()  # type: ignore[attr-defined]

    found = assess(run(*points, every=every), program.holds, program=points)

    assert (found.verdict, found.flags) == ("complete", ())
    assert [stage.dose_ratio for stage in found.stages] == pytest.approx(
        [1.0] * len(program.holds), abs=2e-3
    )
    assert [stage.extend_minutes for stage in found.stages] == [0] * len(program.holds)


def test_a_power_cut_wants_a_hundred_minutes_more() -> None:
    (stage,) = assess(CUT, LONG_STAGES).stages
    (with_ramp,) = assess(CUT, LONG_STAGES, program=LONG.points()).stages

    assert stage.got == pytest.approx(379.6, abs=0.3)
    assert stage.extend_minutes == pytest.approx(100.4, abs=1)
    assert with_ramp.extend_minutes == pytest.approx(104.9, abs=1)
    assert (stage.verdict, with_ramp.verdict) == ("repeat", "repeat")
    assert "380 of the 484 equivalent minutes at 74 °C" in with_ramp.words
    assert "(78 %)" in with_ramp.words
    assert "About 105 min more at 74 °C" in with_ramp.words
    assert "if the maker's instructions allow" in with_ramp.words


def test_the_extension_makes_the_stage_up() -> None:
    (stage,) = assess(CUT, LONG_STAGES).stages
    end = CUT[-1][0]

    longer = [*CUT, *((end + 60 * m, 74.0) for m in range(1, round(stage.extend_minutes) + 1))]

    assert assess(longer, LONG_STAGES).stages[0].dose_ratio == pytest.approx(1, abs=2e-3)
    assert assess(longer, LONG_STAGES).verdict == "complete"


@pytest.mark.parametrize(
    ("minutes", "expected"),
    [(480, "complete"), (468, "complete"), (464, "doubtful"), (408, "doubtful"), (400, "repeat")],
)
def test_limits_part_the_verdicts(minutes: int, expected: str) -> None:
    trace = run((0, 23), (30, 74), (30 + minutes, 74))

    assert assess(trace, LONG_STAGES).verdict == expected


def test_limits_are_a_setting() -> None:
    trace = run((0, 23), (30, 74), (430, 74))

    assert assess(trace, LONG_STAGES, limits=Limits(doubtful=0.8)).verdict == "doubtful"


def test_a_longer_boil_never_pays_for_the_hold() -> None:
    trace = run((0, 23), (30, 74), (60, 74), (80, 100), (380, 100))

    found = assess(trace, SHORT_STAGES)

    assert [stage.verdict for stage in found.stages] == ["repeat", "complete"]
    assert found.stages[0].extend_minutes is None
    assert found.equivalent_minutes > found.program_equivalent_minutes


def test_a_longer_hold_never_pays_for_the_boil() -> None:
    trace = run((0, 23), (30, 74), (3000, 74))

    found = assess(trace, SHORT_STAGES)

    assert [stage.verdict for stage in found.stages] == ["complete", "repeat"]
    assert "never came to 100 °C" in found.stages[1].words


def test_a_short_boil_is_not_extended() -> None:
    found = assess(run((0, 23), (30, 74), (150, 74), (180, 100), (200, 100)), SHORT_STAGES)

    assert found.stages[1].verdict == "repeat"
    assert found.stages[1].extend_minutes is None


def test_a_boil_is_said_to_a_tenth_of_a_degree() -> None:
    stages = ((74, 120), (99.9969, 60))
    found = assess(run((0, 23), (30, 74), (150, 74), (180, 99.9969), (200, 99.9969)), stages)

    assert found.stages[1].words.startswith("Stage 2, 100 °C:")


@pytest.mark.parametrize("boil_c", [106, 110, 125, 130])
def test_water_hotter_than_it_can_be_leaves_a_record_doubtful(boil_c: float) -> None:
    line = ((0, 23), (30, 74), (150, 74), (180, boil_c), (260, boil_c))
    found = assess(run(*line), SHORT_STAGES)
    assert "too_hot" in [flag.code for flag in found.findings]
    assert found.verdict == "doubtful"
    # A boil that a thermometer reads a little too high is a boil.
    near = assess(run(*line[:3], (180, 102), (260, 102)), SHORT_STAGES)
    assert "too_hot" not in [flag.code for flag in near.findings]
    assert near.verdict == "complete"


def test_credit_stops_at_the_temperature_of_the_stage() -> None:
    hot = assess(run((0, 23), (30, 80), (410, 80)), LONG_STAGES).stages[0]

    assert hot.got == pytest.approx(387.2, abs=0.5)


def test_overheating_before_setting_is_not_undone_by_time() -> None:
    early = run((0, 23), (30, 84), (45, 84), (50, 74), (530, 74))
    late = run((0, 23), (30, 74), (300, 74), (320, 84), (530, 84))

    assert assess(early, LONG_STAGES).verdict == "doubtful"
    assert "overheated" in codes(early, LONG_STAGES)
    assert "overheated" in codes(late, LONG_STAGES, setting_minute=330)
    assert codes(late, LONG_STAGES) == set()
    assert assess(early[:200], LONG_STAGES).stages[0].extend_minutes is None


def test_a_gap_is_reckoned_at_both_ends_and_never_complete() -> None:
    trace = [p for p in run((0, 23), (30, 74), (510, 74)) if not 100 * 60 < p[0] < 160 * 60]
    cooled = [*run((0, 23), (30, 74), (100, 74)), *((60.0 * m, 40.0) for m in range(160, 200))]

    held = assess(trace, LONG_STAGES)
    lost = assess(cooled, LONG_STAGES)

    assert held.verdict == "doubtful"
    assert held.stages[0].verdict == "complete"
    assert any(
        flag.startswith("Gap in the record: 60 min without a reading.") for flag in held.flags
    )
    assert lost.stages[0].got == pytest.approx(74.5, abs=1)
    assert lost.stages[0].got_high == pytest.approx(134.5, abs=1)


def test_several_gaps_are_counted_and_the_longest_is_said() -> None:
    gone = {*range(100, 120), *range(200, 240)}
    trace = [p for p in run((0, 23), (30, 74), (510, 74)) if p[0] / 60 not in gone]

    [words] = assess(trace, LONG_STAGES).flags

    assert words.startswith("Gaps in the record: 2 times more than 5 min without a reading, the")
    assert "the longest 41 min" in words


def test_five_minutes_are_no_gap() -> None:
    trace = run((0, 23), (30, 74), (510, 74), every=5)

    assert codes(trace, LONG_STAGES) == set()


def test_flags_name_what_is_odd() -> None:
    stuck = [(60.0 * m, 74.1) for m in range(500)]
    half_way = run((0, 23), (25, 61), (90, 61), (100, 74), (600, 74))
    fahrenheit = [(s, c * 1.8 + 32) for s, c in run((0, 23), (30, 74), (510, 74))]
    clock = [(s + 3600 * (s > 6000), c) for s, c in run((0, 23), (30, 74), (510, 74))]

    assert "stuck" in codes(stuck, LONG_STAGES)
    assert "stuck" in codes(half_way, LONG_STAGES)
    assert "fahrenheit" in codes(fahrenheit, LONG_STAGES)
    assert codes(clock, LONG_STAGES) == {"gap", "clock_change"}
    for trace in (stuck, half_way, fahrenheit, clock):
        assert assess(trace, LONG_STAGES).verdict != "complete"


def heated(hold: list[float], *, fine: float = 0.1, every: float = 1.0) -> Points:
    """Return a bath that comes up ever slower, told to so many kelvin, then reads these values."""
    up = [(m, 74 - 51 * exp(-m / 9)) for m in range(45)]
    held = [(45 + n * every, celsius) for n, celsius in enumerate(hold)]
    return [(60.0 * m, round(round(c / fine) * fine, 2)) for m, c in (*up, *held)]


RIPPLE = [74.0, 74.1, 74.2, 74.1, 74.0, 73.9, 73.8, 73.9]


@pytest.mark.parametrize(
    ("trace", "still"),
    [
        (heated([74.0] * 480), True),
        (heated([73.7] * 480), True),
        (heated(RIPPLE * 15 + [74.0] * 360), True),
        (heated([74.0] * 96, every=5), True),
        (heated(RIPPLE * 60), False),
        (heated(([74.0] * 100 + [74.1]) * 5), False),
        (heated([74.0] * 480, fine=1.0), False),
        (heated([74.0] * 480, fine=0.5), False),
        (heated([74.0] * 480, fine=0.2), False),
        (heated([74.0] * 40, every=12), False),
    ],
    ids=[
        "stuck", "stuck-near", "stuck-later", "five-minutes", "ripples", "stirs-within-two-hours",
        "tells-1-K", "tells-half-K", "tells-a-fifth", "gaps",
    ],
)  # fmt: skip
def test_a_hold_that_never_stirs_is_hinted_at_where_the_probe_could_tell(
    trace: Points, still: bool
) -> None:
    found = assess(trace, LONG_STAGES)

    assert ("still" in codes(trace, LONG_STAGES)) is still
    assert found.stages[0].verdict == "complete"
    assert all(not flag.doubts for flag in found.findings if flag.code == "still")


def test_the_hint_says_what_to_look_at_and_turns_no_verdict() -> None:
    found = assess(heated([74.0] * 480), LONG_STAGES)

    assert found.verdict == "complete"
    [words] = found.flags
    assert words.startswith("The record stands at exactly 74.0 °C for 479 min, although it tells")
    assert "differences of 0.1 °C" in words
    assert "whether the probe lies in the water" in words
    assert "its last value again and again" in words


def test_what_a_probe_tells_in_cold_water_says_nothing_of_hot() -> None:
    """A probe that tells a tenth at 30 °C and a kelvin at 74, as many do."""
    trace = [(s, round(c, 1) if c < 60 else round(c)) for s, c in heated([74.0] * 480, fine=0.1)]

    assert codes(trace, LONG_STAGES) == set()


def test_a_boil_may_stand_still_and_so_may_a_probe_in_a_flask() -> None:
    up = [(60.0 * m, round(23 + 0.7 * m, 1)) for m in range(110)]
    boil = [*up, *((60.0 * m, 99.8) for m in range(110, 300))]
    inside = Probe("flask", date(2026, 12, 9))

    assert codes(boil, [(100, 30)]) == set()
    assert "still" not in codes(heated([74.0] * 480), LONG_STAGES, probe=inside)


def test_an_end_that_was_reckoned_tells_nothing_apart() -> None:
    """The flasks left between two readings: what the line has there no probe has told."""
    trace = [*heated([74.0] * 480, fine=1.0), (45.0 * 60 + 480 * 60, 73.0)]
    out = trace[-1][0] - 6

    found = codes(trace, LONG_STAGES, window=Window(0.0, out, out, 30 * 60.0))

    assert "still" not in found


@pytest.mark.parametrize("resumable", [True, False])
def test_a_bath_that_was_hotter_all_along_is_said_to_be_and_not_extended(resumable: bool) -> None:
    first, second = assess(run((0, 77), (240, 77.5)), SHORT_STAGES, resumable=resumable).stages

    assert (first.hotter, second.hotter) == (True, False)
    assert (first.extend_minutes, first.verdict) == (None, "repeat")
    assert "hotter than 74 °C all along, at 77.0 °C or more" in first.words
    assert "never came to" not in first.words
    assert second.words == "Stage 2: by this record the bath never came to 100 °C."


def test_a_bath_that_comes_down_to_its_stage_is_credited_from_then_on() -> None:
    (stage,) = assess(run((0, 80), (60, 74), (600, 74)), LONG_STAGES).stages

    assert not stage.hotter
    assert stage.verdict == "complete"


def test_a_load_that_is_out_is_told_so_once() -> None:
    trace = run((0, 23), (30, 74), (60, 74), (180, 40))

    first, second = assess(trace, SHORT_STAGES, out=True).stages

    assert first.extend_minutes is None
    assert "The load is out of its bath" in first.words
    assert second.words == "Stage 2: by this record the bath never came to 100 °C."


def test_probe_is_asked_about() -> None:
    trace = run((0, 23), (30, 74), (510, 74))
    day = date(2026, 12, 9)

    assert codes(trace, LONG_STAGES, probe=Probe()) == {"probe_unchecked"}
    assert assess(trace, LONG_STAGES, probe=Probe()).verdict == "complete"
    assert codes(trace, LONG_STAGES, probe=Probe("flask", day)) == {"probe_position"}
    assert assess(trace, LONG_STAGES, probe=Probe("flask", day)).verdict == "doubtful"
    assert codes(trace, LONG_STAGES, probe=Probe("flask", day), program_position="flask") == set()
    old = Probe("bath", date(2025, 12, 8), day)
    assert codes(trace, LONG_STAGES, probe=old) == {"probe_check_old"}
    wrong = assess(trace, LONG_STAGES, probe=Probe("bath", day, day, reads_high_k=1.0))
    assert wrong.stages[0].dose_ratio == pytest.approx(0.886, abs=0.01)


@pytest.mark.parametrize(
    ("stages", "sentence"),
    [
        ([], "one stage or more"), ([74], "one stage or more"), ([(60, 3000)], "outside the range"),
        ([(121, 20)], "outside the range"), ([(nan, 20)], "outside the range"),
        ([(74, 0)], "minutes above zero"), ([(74, nan)], "minutes above zero"),
        ([(100, 30), (74, 90)], "hotter than the one before"),
    ],
)  # fmt: skip
def test_stages_that_cannot_be_judged_are_refused(stages: object, sentence: str) -> None:
    with pytest.raises(ValueError, match=sentence):
        assess(CUT, stages)  # type: ignore[arg-type]


@pytest.mark.parametrize("program", [[], [(0, 23), (60, 60)], 5, [(60, 74), (0, 74)]])
def test_programs_that_do_not_hold_the_stages_are_refused(program: object) -> None:
    with pytest.raises(ValueError, match=r"record|never comes|backwards"):
        assess(CUT, LONG_STAGES, program=program)  # type: ignore[arg-type]


def test_time_backwards_is_refused() -> None:
    with pytest.raises(ValueError, match="backwards"):
        assess([(60, 74), (0, 74)], LONG_STAGES)


@settings(max_examples=50, deadline=None)
@given(st.lists(st.floats(20, 100), min_size=3, max_size=60), st.floats(0, 15))
def test_a_hotter_hold_is_never_a_smaller_credit_below_its_temperature(
    celsius: list[float], rise: float
) -> None:
    cold = [(60.0 * n, min(c, 74)) for n, c in enumerate(celsius)]
    warm = [(s, min(c + rise, 74)) for s, c in cold]

    got, more = (assess(trace, LONG_STAGES).stages[0].got for trace in (cold, warm))

    assert more >= got - 1e-9


def test_verdict_names_its_model() -> None:
    found = assess(CUT, LONG_STAGES, kinetics="a")

    assert (found.model_version, found.kinetics) == (verdicts.MODEL_VERSION, "a")


FORBIDDEN = re.compile(
    r"(free of|no|without) (pores|porosity)|pore-free|(%|percent) (cured|monomer|conver)"
    r"|(monomer|conversion).*\d *(%|percent)",
    re.IGNORECASE,
)


DENIED = re.compile(r"It does not show [^.]*\.")
PLACE = re.compile(r"%\(\w+\)\w")


def said(path: Path) -> list[str]:
    """Return every text of a module, without docstrings, named places and what it denies."""
    tree = ast.parse(path.read_text())
    docs = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    return [
        DENIED.sub("", PLACE.sub("0", node.value))
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in docs
    ]


@pytest.mark.parametrize(
    "module", sorted(Path(verdicts.__file__).parent.glob("*.py")), ids=lambda path: path.name
)
def test_nothing_is_claimed_that_no_record_shows(module: Path) -> None:
    assert [text for text in said(module) if FORBIDDEN.search(text)] == []


@pytest.mark.parametrize(
    "claim", ["98 % cured", "free of pores", "monomer left: 0.4 %", "97 percent conversion"]
)
def test_the_search_for_claims_finds_them(claim: str) -> None:
    assert FORBIDDEN.search(claim)
