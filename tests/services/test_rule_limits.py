"""The limits of the design's rules: a manager's to change, within bounds, on the record."""

from __future__ import annotations

from datetime import timedelta

import pytest

from cases.models import Event, Lab
from cases.selectors.rule_limits import lab_limits
from cases.services.record import Refusal
from cases.services.rule_limits import change_rule_limits
from cases.services.verify_record import verify_record
from tests.factories import NOW, Shop, make_shop

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    return make_shop()


def change(shop: Shop, who: str = "pavo", **values: dict[str, float]) -> None:
    named = {rule.replace("_", "-"): limits for rule, limits in values.items()}
    change_rule_limits(shop.envelope(who, now=NOW + timedelta(minutes=1)), values=named)


def test_limits_are_kept_one_beside_the_other_and_recorded(shop: Shop) -> None:
    change(shop, PATH_1={"tilt": 8.0})
    change(shop, CLP_12={"away": 7.0})
    assert lab_limits() == {"PATH-1": {"tilt": 8.0}, "CLP-12": {"away": 7.0}}
    change(shop, PATH_1={"tilt": 10.0})
    assert Lab.objects.get().rule_limits == {"CLP-12": {"away": 7.0}}
    events = Event.objects.filter(kind="lab.rule-limits-changed").order_by("pk")
    assert [event.subject for event in events] == ["PATH-1", "CLP-12", "PATH-1"]
    assert verify_record() == []


@pytest.mark.parametrize(
    ("values", "field"),
    [
        ({"PATH_1": {"tilt": 90.0}}, "PATH-1-tilt"),
        ({"PATH_1": {"severity": 1.0}}, "PATH-1-severity"),
        ({"PATH_9": {"tilt": 8.0}}, "PATH-9-tilt"),
        ({"PATH_1": {}}, ""),
        ({}, ""),
    ],
)
def test_what_is_no_limit_is_refused_beside_its_field(
    shop: Shop, values: dict[str, dict[str, float]], field: str
) -> None:
    with pytest.raises(Refusal) as refused:
        change(shop, **values)
    assert (refused.value.field or "") == field
    assert Lab.objects.get().rule_limits == {}


@pytest.mark.parametrize("who", ["mara", "noor", "lind"])
def test_only_a_manager_changes_limits(shop: Shop, who: str) -> None:
    with pytest.raises(Refusal):
        change(shop, who, PATH_1={"tilt": 8.0})
    assert lab_limits() == {}
