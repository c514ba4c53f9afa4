"""Readings that no water bath has: named, and left out only where a person says so."""

from __future__ import annotations

import pytest

from cases.models import BathRecord
from cases.services.bath_raw import raw_of
from cases.services.bath_record import Choice, understand, zone
from cases.services.bath_table import rows_of
from cases.services.record import Refusal
from cases.services.verify_record import verify_record
from tests.bath_records import celsius, make_load, points_csv
from tests.factories import Shop, make_shop
from tests.services.test_bath_record import ISO, codes, keep

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    return make_shop()


def spiked(*spikes: tuple[int, float], every: int = 2) -> list[tuple[int, float]]:
    """Return the long cycle with single readings in it that no bath has."""
    return [(m, dict(spikes).get(m, celsius(m))) for m in range(0, 515, every)]


@pytest.mark.parametrize(
    ("spikes", "rows", "said"),
    [
        ([(100, 185.3)], [52], "Row 52 (2026-12-09T00:10:00) says “185.3” between “74.0” and "),
        ([(100, 999.9)], [52], "“999.9” between “74.0” and “74.0”, which no water bath does."),
        ([(100, 185.3), (200, -127.0)], [52, 102], "says “-127.0” between “74.0” and “74.0”"),
        ([(10, 125.0)], [7], "says “125.0” between “36.6” and “43.4”, which no water bath does."),
        ([(300, -20.0)], [152], "says “-20.0” between “74.0” and “74.0”"),
        ([(300, 53.9), (400, 94.1)], [152, 202], "says “53.9” between “74.0” and “74.0”"),
        ([(0, 999.0)], [2], "the first, says “999.0” before “26.4”"),
        ([(514, 160.0)], [259], "the last, says “160.0” after “74.0”"),
    ],
    ids=["one", "code-of-a-fault", "two", "on-the-way", "cold", "both-ways", "first", "last"],
)
def test_a_lone_bad_reading_is_named_and_left_out_only_where_a_person_says_so(
    shop: Shop, spikes: list[tuple[int, float]], rows: list[int], said: str
) -> None:
    make_load(shop)
    data = points_csv(spiked(*spikes))

    with pytest.raises(Refusal) as refused:
        keep(shop, data)
    kept = BathRecord.objects.count()
    row = keep(shop, data, choice={**ISO, "leave_out": rows})

    assert (refused.value.code, refused.value.field, kept) == ("bad-readings", "leave_out", 0)
    assert said in refused.value.sentence
    assert refused.value.sentence.endswith("Leave that out, or mend the record and send it again.")
    assert (row.verdict["verdict"], codes(row)) == ("complete", {"left_out"})
    assert row.layout["leave_out"] == rows
    assert [one["row"] for one in row.verdict["left_out"]] == rows
    assert any(said in flag["words"] for flag in row.verdict["flags"])
    assert max(heat for _second, heat in row.points) < 75
    assert verify_record() == []


def test_a_bad_reading_that_leaves_a_gap_is_doubted(shop: Shop) -> None:
    make_load(shop)
    data = points_csv(spiked((100, 185.3), every=5))

    row = keep(shop, data, choice={**ISO, "leave_out": [22]})

    assert row.verdict["stages"][0]["verdict"] == "complete"
    assert (row.verdict["verdict"], codes(row)) == ("doubtful", {"left_out", "gap"})


@pytest.mark.parametrize("leave_out", [[52, 60], [60], [1], [900]])
def test_a_sound_reading_is_never_left_out(shop: Shop, leave_out: list[int]) -> None:
    make_load(shop)

    with pytest.raises(Refusal, match="is no bad reading, so it is not left out"):
        keep(shop, points_csv(spiked((100, 185.3))), choice={**ISO, "leave_out": leave_out})


@pytest.mark.parametrize(
    "spikes",
    [[(m, 185.3) for m in (100, 200, 300)], [(300, 129.0), (302, 131.0), (304, 133.0)]],
    ids=["three", "climbs"],
)
def test_more_than_two_or_a_climb_are_no_lone_bad_readings(
    shop: Shop, spikes: list[tuple[int, float]]
) -> None:
    make_load(shop)

    with pytest.raises(Refusal, match="Read like this the record goes above 130 °C"):
        keep(shop, points_csv(spiked(*spikes)))


@pytest.mark.parametrize(
    ("spikes", "every"),
    [([(300, 54.1)], 2), ([(300, 40.0), (302, 40.0)], 2), ([(300, 40.0)], 10)],
    ids=["near", "two-together", "far-apart-in-time"],
)
def test_what_a_bath_may_do_is_no_bad_reading(
    shop: Shop, spikes: list[tuple[int, float]], every: int
) -> None:
    make_load(shop)

    assert keep(shop, points_csv(spiked(*spikes, every=every))).verdict["left_out"] == []


def test_more_lone_readings_than_a_sound_probe_has_leave_the_record_doubtful(shop: Shop) -> None:
    make_load(shop)
    row = keep(shop, points_csv(spiked((200, 99.0), (300, 99.0), (400, 99.0))))

    [flag] = row.verdict["flags"]

    assert (row.verdict["verdict"], flag["code"]) == ("doubtful", "jumps")
    assert flag["words"].startswith("3 readings stand alone, the first at 99.0 °C, and no bath ")


def test_a_record_with_a_bad_reading_is_read_again_after_a_cut_as_it_was(shop: Shop) -> None:
    """Read again from its file, as a cut does: the row stays out."""
    make_load(shop)
    row = keep(shop, points_csv(spiked((100, 185.3))), choice={**ISO, "leave_out": [52]})
    raw = raw_of(row.sha256)
    assert raw is not None
    told = {name: value for name, value in row.layout.items() if name != "probe"}

    again = understand(rows_of(raw.data), Choice(**told), zone())

    assert float(again.reading.samples.celsius.max()) < 75


def test_a_record_that_was_kept_with_a_lone_reading_in_it_is_read_again_as_it_was(
    shop: Shop,
) -> None:
    """Kept before lone readings were asked about, it names none that was left out."""
    make_load(shop)
    table = rows_of(points_csv(spiked((300, 40.0))))

    again = understand(table, Choice(**ISO), zone(), as_kept=True)

    assert float(again.reading.samples.celsius[100:].min()) == 40.0
