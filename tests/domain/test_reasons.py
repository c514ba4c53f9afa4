"""Reason lists: stable keys, words where needed, one main reason."""

import pytest

from cases.domain.reasons import (
    HOLD,
    HOLD_WAITS_FOR,
    OTHER,
    REASON_LISTS,
    REMAKE,
    REMAKE_ORIGIN,
    SEND_BACK,
    usually_waits_for,
)


@pytest.mark.parametrize(
    ("name", "count"),
    [
        ("send-back", 14),
        ("remake", 12),
        ("adjustment", 12),
        ("hold", 14),
        ("skip", 10),
        ("concession", 11),
        ("block-out-other", 8),
        ("time-corrected", 7),
    ],
)
def test_reason_list_is_complete_and_ends_with_other(name: str, count: int) -> None:
    reasons = REASON_LISTS[name].reasons

    assert len(reasons) == count + 1
    assert reasons[-1] == OTHER
    assert len({reason.key for reason in reasons}) == len(reasons)
    assert len({reason.words for reason in reasons}) == len(reasons)


def test_reason_lists_are_eight() -> None:
    assert len(REASON_LISTS) == 8


def test_get_returns_the_reason_or_names_the_list() -> None:
    assert SEND_BACK.get("bracing-low").words == "Bracing too low"
    with pytest.raises(ValueError, match="not a reason in the list “Remake”"):
        REMAKE.get("bracing-low")


def test_remake_origin_does_not_name_a_person_and_may_be_unknown() -> None:
    assert [origin.key for origin in REMAKE_ORIGIN] == [
        "impression", "order", "design", "bench", "material", "transport", "mouth-changed",
        "not-known",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("reason", "waits_for"),
    [("answer", "practice"), ("on-order", "supplier"), ("equipment", "repairer"),
     ("disinfection-unknown", "laboratory"), ("person-away", "laboratory"), ("other", "practice")],
)  # fmt: skip
def test_usually_waits_for_offers_the_likeliest_party(reason: str, waits_for: str) -> None:
    assert usually_waits_for(reason) == waits_for


def test_usually_waits_for_covers_every_hold_reason() -> None:
    offered = {party.key for party in HOLD_WAITS_FOR}

    assert {usually_waits_for(reason.key) for reason in HOLD.reasons} <= offered
    with pytest.raises(ValueError, match="not a reason"):
        usually_waits_for("sunshine")
