"""A logger's growing file: its layout, its rows, its clock in the nights of the clock change."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from cases.domain.cure.feed import Layout, Sample, find_layout, hear

WALL = ZoneInfo("Europe/Vienna")
NOW = datetime(2026, 12, 9, 22, 0, tzinfo=UTC)

PLAIN = "time,bath °C\n2026-12-09 22:50:00,73.9\n2026-12-09 22:51:00,74.0\n"


def test_plain_file_is_read_as_it_stands() -> None:
    layout = find_layout(PLAIN, unit="C")

    heard = hear("2026-12-09 22:52:00,74.1\n", layout, WALL, NOW)

    assert heard.samples == (Sample(datetime(2026, 12, 9, 21, 52, tzinfo=UTC), 74.1),)
    assert heard.trouble == ""
    assert Layout.from_json(layout.as_json()) == layout


@pytest.mark.parametrize(
    ("head", "said", "row", "celsius"),
    [
        ("Zeit;Temp (°C)\n09.12.2026 22:50;73,9\n09.12.2026 22:51;74,0\n",
         {"order": "dmy"}, "09.12.2026 22:52;74,1", 74.1),
        ("When\tBath (°F)\n12/09/2026 10:50 PM\t165.2\n12/09/2026 10:51 PM\t165.2\n",
         {"order": "mdy", "unit": "F"}, "12/09/2026 10:52 PM\t167", 75.0),
        ("at,room,bath\n2026-12-09T21:50:00Z,21.5,73.9\n2026-12-09T21:51:00Z,21.5,74\n",
         {"column": "Bath"}, "2026-12-09T21:52:00Z,21.4,74.2", 74.2),
        ("at;T (C)\n2026-12-09 21:50 UTC;73.9\n2026-12-09 21:51 UTC;74\n", {},
         "2026-12-09 21:52 UTC;74.2", 74.2),
        ("Date;T (C);Time\n09-12-2026;73.9;22:50\n09-12-2026;74;22:51\n",
         {"order": "dmy"}, "09-12-2026;74.2;22:52", 74.2),
        ("logger 7\nstamp|deg C\n1796853000|73.9\n1796853060|74.0\n", {}, "1796853120|74.3", 74.3),
    ],
)  # fmt: skip
def test_what_the_table_leaves_open_a_person_said(
    head: str, said: dict[str, str], row: str, celsius: float
) -> None:
    layout = find_layout(head, **{"unit": "C", **said})

    (sample,) = hear(row, layout, WALL, NOW).samples

    assert sample.at == datetime(2026, 12, 9, 21, 52, tzinfo=UTC)
    assert sample.celsius == pytest.approx(celsius)


@pytest.mark.parametrize(
    ("head", "said", "words"),
    [
        ("at;T (C)\n09.12.2026 22:50;73,9\n09.12.2026 22:51;74,0\n", {}, "two ways"),
        ("at,T (F)\n2026-12-09 22:50,165\n2026-12-09 22:51,165\n", {}, "says °F"),
        ("at,a,b\n2026-12-09 22:50,165,73\n2026-12-09 22:51,165,74\n", {}, "Name one of: a, b"),
        ("at,a\n2026-12-09 22:50,73\n2026-12-09 22:51,74\n", {"column": "c"}, "is called “c”"),
        ("Elapsed s,T (C)\n0,23\n60,24\n", {}, "does not say the day"),
        ("at,T (C)\n2026-12-09 22:50,73\n", {}, "fewer than two rows"),
    ],
)
def test_what_cannot_be_settled_is_said(head: str, said: dict[str, str], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        find_layout(head, **{"unit": "C", **said})


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("2026-12-09 22:52:00,--", "no reading"),
        ("2026-12-09 22:52:00,74,9", "no reading"),
        ("soon,74", "no instant"),
        ("2026-12-10 00:30:00,74", "90 min ahead"),
        ("2026-11-09 22:52:00,74", "a week old"),
        ("2026-12-09 22:52:00,165.2", "°F"),
    ],
)
def test_bad_row_is_left_out_and_named(row: str, words: str) -> None:
    layout = find_layout(PLAIN, unit="C")

    heard = hear(f"{row}\n2026-12-09 22:53:00,74.1\n", layout, WALL, NOW)

    assert [sample.celsius for sample in heard.samples] == [74.1]
    assert words in heard.trouble
    assert "2026" in heard.trouble or "soon" in heard.trouble


def test_hour_that_comes_twice_is_an_hour_later_the_second_time() -> None:
    # Vienna, 25 October 2026: at 03:00 summer time it is 02:00 again.
    layout = find_layout(PLAIN, unit="C")
    clocks = ["01:50", "02:20", "02:50", "02:10", "02:40", "03:05"]
    rows = "".join(f"2026-10-25 {clock}:00,74.0\n" for clock in clocks)

    heard = hear(rows, layout, WALL, datetime(2026, 10, 25, 3, 0, tzinfo=UTC))

    midnight = datetime(2026, 10, 25, tzinfo=UTC)
    minutes = [(sample.at - midnight) / timedelta(minutes=1) for sample in heard.samples]
    assert minutes == [-10, 20, 50, 70, 100, 125]


def test_hour_that_is_left_out_is_left_out() -> None:
    # Vienna, 28 March 2027: after 02:00 comes 03:00.
    layout = find_layout(PLAIN, unit="C")
    rows = "2027-03-28 01:59:00,74.0\n2027-03-28 03:01:00,74.0\n"

    first, second = hear(rows, layout, WALL, datetime(2027, 3, 28, 3, tzinfo=UTC)).samples

    assert second.at - first.at == timedelta(minutes=2)
