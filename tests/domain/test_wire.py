"""Wire: American gauge by formula, British by table, and never a number without its table."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cases.domain import wire
from cases.domain.wire import ALLOYS, Wire, diameter_mm, neighbours, parse_wire, swg_diameter_mm

# Inches to four places. Source: the table of ASTM B258, from memory; 12 to 20 were read in a
# reference table of American wire gauge.
ASTM_B258_INCH = {
    0: 0.3249, 1: 0.2893, 2: 0.2576, 4: 0.2043, 6: 0.1620, 8: 0.1285, 10: 0.1019, 11: 0.0907,
    12: 0.0808, 13: 0.0720, 14: 0.0641, 15: 0.0571, 16: 0.0508, 17: 0.0453, 18: 0.0403,
    19: 0.0359, 20: 0.0320, 22: 0.0253, 24: 0.0201, 26: 0.0159, 28: 0.0126, 30: 0.0100,
    32: 0.0080, 34: 0.0063, 36: 0.0050, 40: 0.0031,
}  # fmt: skip
# Unrounded formula in mm, reckoned apart from this program.
AWG_MM = {
    6: 4.1154, 8: 3.2636, 10: 2.5882, 11: 2.3048, 12: 2.0525, 13: 1.8278, 14: 1.6277, 15: 1.4495,
    16: 1.2908, 17: 1.1495, 18: 1.0237, 19: 0.9116, 20: 0.8118, 24: 0.5106, 28: 0.3211, 30: 0.2546,
}  # fmt: skip
# πd⁴/64 and 0.109757·r⁴ in mm⁴.
ROUND_MM4 = {
    12: 0.87121, 13: 0.54791, 14: 0.34458, 15: 0.21671, 16: 0.13629, 17: 0.08571, 18: 0.05391,
    19: 0.03390, 20: 0.02132,
}  # fmt: skip
HALF_ROUND_MM4 = {6: 1.9677, 8: 0.7783, 10: 0.3078, 11: 0.1936, 12: 0.1217, 14: 0.0482}


@pytest.mark.parametrize(("gauge", "inch"), ASTM_B258_INCH.items())
def test_american_gauge_agrees_with_the_standard_to_four_places(gauge: int, inch: float) -> None:
    assert round(diameter_mm(gauge) / 25.4, 4) == inch


@pytest.mark.parametrize(("gauge", "mm"), AWG_MM.items())
def test_american_gauge_is_not_rounded_before_it_is_millimetres(gauge: int, mm: float) -> None:
    assert diameter_mm(gauge) == pytest.approx(mm, abs=5.1e-5)


def test_each_step_of_the_american_gauge_has_the_same_ratio() -> None:
    steps = [diameter_mm(gauge) / diameter_mm(gauge + 1) for gauge in range(40)]

    assert steps == pytest.approx([1.1229322] * 40, abs=5e-8)


@pytest.mark.parametrize("gauge", [-1, 41, 1000, 18.5, True, "18", None, float("nan")])
def test_american_gauge_refuses_what_is_none(gauge: object) -> None:
    with pytest.raises(ValueError, match=r"gauge.*\.$"):
        diameter_mm(gauge)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("gauge", "mm"), [(18, 1.2192), (19, 1.016), (20, 0.9144), (21, 0.8128), (27, 0.41656)]
)
def test_british_gauge_is_read_from_its_table(gauge: int, mm: float) -> None:
    assert swg_diameter_mm(gauge) == pytest.approx(mm)


@pytest.mark.parametrize("gauge", [5, 31, -19, 19.5])
def test_british_gauge_refuses_what_is_not_in_the_table(gauge: float) -> None:
    with pytest.raises(ValueError, match=r"gauge.*\.$"):
        swg_diameter_mm(gauge)  # type: ignore[arg-type]


def test_british_table_falls_with_every_number() -> None:
    sizes = [wire.SWG_TENTHS_OF_A_THOU[gauge] for gauge in range(6, 31)]

    assert sizes == sorted(set(sizes), reverse=True)


@pytest.mark.parametrize(("gauge", "second"), ROUND_MM4.items())
def test_second_moment_of_a_round_wire(gauge: int, second: float) -> None:
    assert wire.second_moment_mm4("round", diameter_mm(gauge)) == pytest.approx(second, abs=5.1e-6)


@pytest.mark.parametrize(("gauge", "second"), HALF_ROUND_MM4.items())
def test_second_moment_of_a_half_round_bar_is_the_weak_one(gauge: int, second: float) -> None:
    found = wire.second_moment_mm4("half_round", diameter_mm(gauge))

    assert found == pytest.approx(second, abs=5.1e-5)


@pytest.mark.parametrize(
    ("text", "system", "read"),
    [
        ("19", "awg", Wire(diameter_mm(19), "19", "awg")),
        (" 19 AWG ", "", Wire(diameter_mm(19), "19", "awg")),
        ("18 B&S", "", Wire(diameter_mm(18), "18", "awg")),
        ("19 swg", "swg", Wire(0.4 * 2.54, "19", "swg")),
        ("0.9 mm", "", Wire(0.9, "0.9", "mm")),
        ("0,9", "mm", Wire(0.9, "0.9", "mm")),
        ("1", "mm", Wire(1.0, "1.0", "mm")),
        ("6", "awg", Wire(diameter_mm(6), "6", "awg")),
    ],
)
def test_parse_wire_keeps_the_gauge_beside_the_millimetres(
    text: str, system: str, read: Wire
) -> None:
    found = parse_wire(text, system)

    assert (found.gauge, found.system) == (read.gauge, read.system)
    assert found.mm == pytest.approx(read.mm)


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("18", "18 by which table? 1.02 mm (AWG) or 1.22 mm (SWG)?"),
        ("19", "19 by which table? 0.91 mm (AWG) or 1.02 mm (SWG)?"),
        ("40", "40 by which table? Say AWG, SWG or millimetres."),
        ("19 ga", "19 by which table? 0.91 mm (AWG) or 1.02 mm (SWG)?"),
        ("0.9", "0.9 of what? Say millimetres, AWG or SWG."),
    ],
)
def test_parse_wire_asks_which_table(text: str, sentence: str) -> None:
    with pytest.raises(ValueError, match=r"which table|of what") as refused:
        parse_wire(text)

    assert str(refused.value) == sentence


@pytest.mark.parametrize(
    ("text", "system", "sentence"),
    [
        ("19 AWG", "swg", "says AWG, but SWG was chosen"),
        ("thick", "awg", "is no wire"),
        ("", "mm", "is no wire"),
        ("-19", "awg", "is no wire"),
        ("18.5", "awg", "gauges are whole numbers"),
        ("41", "awg", "no wire of AWG 41"),
        ("31", "swg", "no wire of SWG 31"),
        ("1", "awg", r"1 AWG \(7.35 mm\) is no wire for a clasp"),
        ("9", "mm", "9.0 mm is no wire for a clasp"),
        ("0.2", "mm", "0.2 mm is no wire for a clasp"),
        ("0", "mm", "0.0 mm is no wire for a clasp"),
        ("19", "stubs", "no table of wires"),
    ],
)
def test_parse_wire_refuses_in_a_sentence(text: str, system: str, sentence: str) -> None:
    with pytest.raises(ValueError, match=sentence):
        parse_wire(text, system)


@given(st.text(max_size=12), st.sampled_from(["", "awg", "swg", "mm"]))
def test_parse_wire_reads_or_refuses_anything_that_is_typed(text: str, system: str) -> None:
    try:
        found = parse_wire(text, system)
    except ValueError as refused:
        assert str(refused)[-1] in ".?"  # noqa: PT017 - either outcome is right
    else:
        assert wire.THINNEST_MM <= found.mm <= wire.THICKEST_MM


def test_label_says_gauge_table_and_millimetres() -> None:
    assert parse_wire("19 AWG").label == "19 AWG (0.91 mm)"
    assert parse_wire("19 SWG").label == "19 SWG (1.02 mm)"
    assert parse_wire("1 mm").label == "1.0 mm"


@pytest.mark.parametrize(
    ("text", "labels"),
    [
        ("19 AWG", ["20 AWG (0.81 mm)", "18 AWG (1.02 mm)"]),
        ("20 SWG", ["21 SWG (0.81 mm)", "19 SWG (1.02 mm)"]),
        ("0.9 mm", ["0.8 mm", "1.0 mm"]),
        ("30 SWG", ["29 SWG (0.35 mm)"]),
        ("0.3 mm", ["0.4 mm"]),
    ],
)
def test_neighbours_are_thinner_and_thicker_of_the_same_table(text: str, labels: list[str]) -> None:
    assert [found.label for found in neighbours(parse_wire(text))] == labels


def test_alloys_give_ranges_with_a_source_and_say_whether_there_is_nickel() -> None:
    for key, alloy in ALLOYS.items():
        assert alloy.key == key
        assert alloy.source
        assert alloy.status.startswith("from memory")
        assert 0 < alloy.modulus_gpa.low <= alloy.modulus_gpa.high < 250
        assert 0 < alloy.yield_mpa.low <= alloy.yield_mpa.high < 2500
    assert {key for key, alloy in ALLOYS.items() if not alloy.nickel} == {"gold"}
