"""Commas that part nothing: a date is put together again, and only a date."""

from __future__ import annotations

import pytest

from cases.domain.cure.cells import rejoined, split_cells
from cases.domain.cure.trace import recognise
from tests.domain.cure.test_trace import MINUTES, stamp, table, the_cycle


@pytest.mark.parametrize(
    ("head", "time", "form"),
    [
        ("Date,Time,T (C)", "Dec {d}, 2026,{H:02}:{M:02}:00,", "mdy+"),
        ("Date,Time,T (C)", "{w}, Dec {d}, 2026,{H:02}:{M:02}:00,", "mdy+"),
        ("Date,Time,T (C)", "{d} Dec, 2026,{h:02}:{M:02} {p},", "dmy+"),
        ("when,T (C)", "Dec {d}, 2026 {H:02}:{M:02},", "mdy"),
        ("when,T (C)", "{W}, December {d}, 2026 {H:02}:{M:02},", "mdy"),
        ("when,T (C)", "Dec {d}, 2026, {h:02}:{M:02} {p},", "mdy"),
        ("when,T (C)", "{d}/12/2026, {H:02}:{M:02}:00,", "dmy"),
        ("No.,Date,Time,T (C)", "{e},Dec {d}, 2026,{H:02}:{M:02},", "mdy+"),
        ("Logger 7", "Dec {d}, 2026,{H:02}:{M:02},", "mdy+"),
    ],
)
def test_a_date_that_its_own_comma_parts_is_put_together_again(
    head: str, time: str, form: str
) -> None:
    rows = rejoined(split_cells(table(head, time, "{c}") + "\nAverage,,,70.0\n"))

    found, choice, reading = the_cycle(rows, form)

    assert reading.started == "2026-12-25T22:30:00"
    assert found.heats[0].stated is (head != "Logger 7")
    assert choice.name == ("when" if head.startswith("when") else choice.name)


def test_a_reading_stays_under_its_own_heading_where_a_comma_parts_the_instant() -> None:
    """The relative humidity would be taken for the temperature, and that left out."""
    rows = rejoined(split_cells(table("Time,T (C),RH %", "{d}/12/2026, {H:02}:{M:02},", "{c},40")))

    assert [heat.name for heat in recognise(rows).heats] == ["T (C)"]


@pytest.mark.parametrize(
    ("head", "row"),
    [
        ("Date,Time", "{d}.12.2026,{H:02}:{M:02},70.5"),
        ("Date,Time,T (C)", "2026-12-{d},{H:02}:{M:02},70.5"),
        ("at,p", "{e},23.10,2026,70.5"),
        ("", "{d} Dec,{H:02}:{M:02},70.5"),
    ],
    ids=["unnamed-heat", "apart", "numbers", "no-year"],
)
def test_cells_that_are_no_parted_date_stay_as_they_are(head: str, row: str) -> None:
    rows = split_cells("\n".join([head, *(stamp(row, minute) for minute in MINUTES)]))

    assert rejoined(rows) == rows


def test_a_growing_file_with_a_comma_in_its_date_is_refused_with_what_to_do() -> None:
    rows = split_cells(table("Date,Time,T (C)", "Dec {d}, 2026,{H:02}:{M:02},", "{c}"))

    with pytest.raises(ValueError, match=r"^A comma inside the date parts it: export the record"):
        recognise(rows, growing=True)
