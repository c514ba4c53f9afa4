"""Profiles of required entries: the longest is the default, and every rule they name exists."""

import pytest

from cases.domain.order_profiles import (
    DEFAULT_PROFILE,
    REQUIRED_PROFILES,
    TRADE_FIELDS,
    required_profile,
)
from cases.domain.order_rules import RULES


def test_every_required_field_has_a_rule_and_every_rule_can_be_required() -> None:
    named = set().union(*(profile.fields for profile in REQUIRED_PROFILES.values()))

    assert named <= set(RULES)
    assert set(RULES) == named | {"allergies", "try_in"}


def test_every_profile_has_the_trade_fields_an_authority_and_a_source() -> None:
    for key, profile in REQUIRED_PROFILES.items():
        assert profile.key == key
        assert profile.fields >= TRADE_FIELDS
        assert profile.authority
        assert profile.source


def test_default_profile_is_the_longest_in_entries_and_years() -> None:
    for profile in REQUIRED_PROFILES.values():
        assert profile.fields <= DEFAULT_PROFILE.fields
        assert profile.keep_years <= DEFAULT_PROFILE.keep_years


@pytest.mark.parametrize(
    ("key", "years"),
    [
        ("us-montana", 2),
        ("us-north-carolina", 2),
        ("us-maine", 2),
        ("us-alabama", 2),
        ("us-west-virginia", 2),
        ("us-oklahoma", 3),
        ("us-florida", 4),
        ("us-maryland", 4),
        ("eu", 10),
        ("longest", 10),
    ],
)
def test_profile_keeps_orders_as_long_as_its_authority_says(key: str, years: int) -> None:
    assert required_profile(key).keep_years == years


def test_required_profile_refuses_an_unknown_key() -> None:
    with pytest.raises(ValueError, match="Choose one of the lists"):
        required_profile("atlantis")


def test_west_virginia_asks_for_no_licence_number() -> None:
    assert "licence_given" not in required_profile("us-west-virginia").fields
    assert "licence_given" in required_profile("us-montana").fields
