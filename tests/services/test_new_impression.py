from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from cases.domain.order import Item
from cases.services.new_impression import take_new_impression
from cases.services.received import later_item_came
from cases.services.record import Refusal
from cases.services.verify_record import verify_record
from tests.factories import NOW, make_case, make_shop
from tests.walk import Clock, walk

pytestmark = pytest.mark.django_db

NOT_KNOWN = {"done": "not-known"}


def impression(at: datetime, **changes: Any) -> dict[str, Any]:
    return {
        "kind": "working", "form": "impression", "material": "alginate",
        "taken_at": (at - timedelta(minutes=4)).isoformat(), **changes,
    }  # fmt: skip


def test_casts_come_from_the_trimmer() -> None:
    shop = make_shop()
    case = make_case(shop)

    walk(shop, case, Clock(NOW), until="trim")

    casts = case.things.order_by("label").values_list("kind", "label", "state")
    assert list(casts) == [("cast", "opposing", "in-use"), ("cast", "working", "in-use")]


def test_new_impression_voids_the_cast_and_begins_again() -> None:
    shop = make_shop()
    case = make_case(shop)
    clock = Clock(NOW)
    walk(shop, case, clock, until="trim")
    at = clock.now + timedelta(hours=1)
    case.refresh_from_db()

    result = take_new_impression(
        shop.envelope("noor", now=at), case=case.pk, version=case.version,
        items=[impression(at)], disinfection=NOT_KNOWN, words="The pad was missing.",
    ).result  # fmt: skip

    case.refresh_from_db()
    assert result["void"] == ["working"]
    assert result["reopened"][:2] == ["receive", "pour"]
    assert case.taken_at == at - timedelta(minutes=4)
    assert case.pour_by == at + timedelta(minutes=11)
    assert case.contaminated
    assert case.stages.get(key="disinfect").state == "planned"
    assert case.stages.get(key="pour").attempt == 2
    assert case.things.get(label="opposing").state == "in-use"
    assert verify_record() == []


def test_new_impression_needs_the_working_arch() -> None:
    shop = make_shop()
    case = make_case(shop)

    with pytest.raises(Refusal) as refused:
        take_new_impression(
            shop.envelope("noor"), case=case.pk, version=case.version,
            items=[impression(NOW, kind="opposing")], disinfection=NOT_KNOWN, words="x",
        )  # fmt: skip

    assert refused.value.code == "no-impression"


def test_new_impression_taken_later_than_now_is_refused() -> None:
    shop = make_shop()
    case = make_case(shop)
    late = impression(NOW, taken_at=(NOW + timedelta(hours=1)).isoformat())

    with pytest.raises(Refusal) as refused:
        take_new_impression(
            shop.envelope("noor"), case=case.pk, version=case.version,
            items=[late], disinfection=NOT_KNOWN, words="x",
        )  # fmt: skip

    assert (refused.value.code, refused.value.field) == ("later-than-now", "working_taken_at")


def test_what_follows_later_comes_and_only_its_hold_is_released() -> None:
    shop = make_shop()
    taken = datetime(2026, 12, 9, 9, 30, tzinfo=UTC)
    case = make_case(
        shop,
        items=(
            Item("working", "impression", material="alginate", taken_at=taken),
            Item("opposing", "impression", follows_later=True),
            Item("bite", follows_later=True),
        ),
    )
    assert case.holds.filter(released_at__isnull=True).count() == 2
    opposing = case.received.get(item="opposing")

    later_item_came(
        shop.envelope("noor"), received=opposing.pk, material="alginate",
        taken_at=taken.isoformat(),
    )  # fmt: skip

    opposing.refresh_from_db()
    assert (opposing.state, opposing.came_at) == ("here", NOW)
    (left,) = case.holds.filter(released_at__isnull=True)
    assert left.words.startswith("Bite record")
    case.refresh_from_db()
    assert [item["follows_later"] for item in case.order["items"]] == [False, False, True]
    with pytest.raises(Refusal) as refused:
        later_item_came(shop.envelope("noor"), received=opposing.pk)
    assert refused.value.code == "came-already"
    assert verify_record() == []
