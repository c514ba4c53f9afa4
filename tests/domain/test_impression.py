"""The pour clock: counted from when the impression was taken, never from its arrival."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from cases.domain.impression import (
    MATERIALS,
    material,
    pour_deadline,
    pour_limit_minutes,
    pour_state,
)

TAKEN = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)


def after(minutes: float) -> datetime:
    return TAKEN + timedelta(minutes=minutes)


def test_materials_have_distinct_keys_and_a_source_each() -> None:
    assert len({m.key for m in MATERIALS}) == len(MATERIALS)
    assert all(m.source for m in MATERIALS)


def test_material_refuses_an_unknown_key() -> None:
    assert material("alginate").limit_minutes == 15
    assert material("alginate").outer_minutes == 30
    with pytest.raises(ValueError, match="Choose one of the list"):
        material("chewing gum")


def test_pour_limit_is_the_makers_when_entered() -> None:
    assert pour_limit_minutes("alginate") == 15
    assert pour_limit_minutes("alginate", 12) == 12
    assert pour_limit_minutes("long-alginate") is None
    assert pour_limit_minutes("long-alginate", 2880) == 2880


def test_pour_deadline_needs_both_parts() -> None:
    assert pour_deadline(15, TAKEN) == after(15)
    assert pour_deadline(None, TAKEN) is None
    assert pour_deadline(15, None) is None


def test_pour_deadline_counts_real_minutes_over_the_clock_change() -> None:
    riga = ZoneInfo("Europe/Riga")
    taken = datetime(2026, 10, 25, 3, 50, tzinfo=riga).astimezone(UTC)

    deadline = pour_deadline(30, taken)

    assert deadline is not None
    assert deadline.astimezone(riga).strftime("%H:%M") == "03:20"
    assert deadline - taken == timedelta(minutes=30)


@pytest.mark.parametrize(
    ("minutes", "status", "counted"),
    [
        (0, "left", 15),
        (10.5, "left", 4),
        (15, "left", 0),
        (15.1, "overdue", 0),
        (30, "overdue", 15),
        (30.1, "too-old", 15),
        (90, "too-old", 75),
    ],
)
def test_pour_state_of_alginate_over_time(minutes: float, status: str, counted: int) -> None:
    state = pour_state("alginate", taken_at=TAKEN, now=after(minutes))

    assert (state.status, state.minutes) == (status, counted)


def test_pour_state_speaks_in_sentences_with_the_next_step() -> None:
    def sentence(minutes: float) -> str:
        return pour_state("alginate", taken_at=TAKEN, now=after(minutes)).sentence

    assert sentence(14) == "1 minute left to pour this impression."
    assert sentence(20) == (
        "The pour limit of 15 minutes passed 5 minutes ago. Pour now and judge the cast."
    )
    assert sentence(80).endswith("Ask for a new impression, or go on by concession.")
    assert "1 h 5 min ago" in sentence(80)


def test_pour_state_uses_the_makers_limit_alone_when_entered() -> None:
    left = pour_state("long-alginate", taken_at=TAKEN, now=after(0), maker_minutes=100 * 60)
    over = pour_state("alginate", taken_at=TAKEN, now=after(21), maker_minutes=20)

    assert left.sentence == "4 days 4 h left to pour this impression."
    assert over.status == "too-old"


def test_pour_state_keeps_the_outer_limit_when_the_default_is_entered_by_hand() -> None:
    state = pour_state("alginate", taken_at=TAKEN, now=after(21), maker_minutes=15)

    assert state.status == "overdue"


def test_pour_state_is_unknown_without_taken_or_limit() -> None:
    no_time = pour_state("alginate", taken_at=None, now=TAKEN)
    no_limit = pour_state("other", taken_at=TAKEN, now=after(1))

    assert (no_time.status, no_time.minutes) == ("unknown", None)
    assert "ask the practice" in no_time.sentence
    assert (no_limit.status, no_limit.minutes) == ("unknown", None)
    assert "Enter it from the packet" in no_limit.sentence


@pytest.mark.parametrize(
    ("poured", "sentence"),
    [
        (12, "Poured 12 minutes after it was taken."),
        (40, "Poured 40 minutes after it was taken, over the limit of 15 minutes."),
        (24 * 60 + 1, "Poured 1 day after it was taken, over the limit of 15 minutes."),
    ],
)
def test_pour_state_stops_when_poured(poured: int, sentence: str) -> None:
    state = pour_state("alginate", taken_at=TAKEN, now=after(9999), poured_at=after(poured))

    assert (state.status, state.minutes, state.sentence) == ("poured", poured, sentence)


def test_pour_state_poured_without_taken_claims_no_minutes() -> None:
    state = pour_state("alginate", taken_at=None, now=after(5), poured_at=after(1))

    assert (state.status, state.minutes) == ("poured", None)
