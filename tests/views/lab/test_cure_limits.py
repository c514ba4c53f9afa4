"""The page of the limits of the cure: what each changes and why, and what is refused there."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from cases.domain.cure.settings import CURE_LIMITS
from cases.models import CureLimitsChange, Lab
from tests.factories import Shop, make_shop

pytestmark = pytest.mark.django_db

URL = "cases:cure-limits"


@pytest.fixture
def shop() -> Shop:
    return make_shop()


@pytest.fixture
def manager(client: Client, shop: Shop) -> Client:
    client.force_login(shop.people["pavo"].user)
    return client


def shown(client: Client, **typed: str) -> dict[str, Any]:
    """Return what a browser sends of the page, with what it was shown."""
    form = client.get(reverse(URL)).context["form"]
    fields = [form[key] for key in CURE_LIMITS]
    sent = {field.html_name: field.value() for field in fields}
    sent |= {field.html_initial_name: field.value() for field in fields}
    return sent | {"reason": "The maker of our resin asks for it."} | typed


def text_of(answer: Any) -> str:
    """Return a page with ordinary blanks before its units."""
    text: str = answer.content.decode()
    return text.replace("\u00a0", " ")


def test_every_limit_stands_there_with_its_usual_value_and_source(manager: Client) -> None:
    answer = manager.get(reverse(URL))

    listed = [one for _part, _words, limits in answer.context["parts"] for one in limits]
    assert [one.limit for one in listed] == list(CURE_LIMITS.values())
    text = text_of(answer)
    assert all(
        f"Usual: {one.limit.value:g} {one.limit.unit}; {one.source}." in text for one in listed
    )
    assert "90 to 100 %; usual: 98 %" in text
    assert "no verdict and no estimate that was kept is ever altered" in text


def test_only_what_was_touched_is_changed_and_the_change_is_told(manager: Client) -> None:
    page = shown(manager, complete_percent="97,5")
    Lab.objects.update(cure_limits={"near_c": 92.0})

    answer = manager.post(reverse(URL), page, follow=True)

    assert Lab.objects.get().cure_limits == {"complete_percent": 97.5, "near_c": 92.0}
    text = text_of(answer)
    assert "2 are changed" in text
    assert "Changed here; usual is 98 %." in text
    assert "Complete from: 98 %, then 97.5 %" in text
    assert "The maker of our resin asks for it." in text
    assert "2 limits changed" in manager.get(reverse("cases:lab")).content.decode()


def test_an_emptied_limit_goes_back_to_the_usual_one(manager: Client) -> None:
    Lab.objects.update(cure_limits={"complete_percent": 97.0, "near_c": 92.0})

    manager.post(reverse(URL), shown(manager, complete_percent=""))

    assert Lab.objects.get().cure_limits == {"near_c": 92.0}


def test_all_that_is_wrong_is_refused_beside_its_field_and_nothing_is_lost(
    manager: Client,
) -> None:
    typed = {"near_c": "120", "gypsum_mm": "thick", "doubtful_percent": "98.5", "reason": ""}

    answer = manager.post(reverse(URL), shown(manager, overshoot_k="6", **typed))

    assert answer.status_code == 422
    errors = {
        key: ones[0].replace("\u00a0", " ") for key, ones in answer.context["form"].errors.items()
    }
    assert set(errors) == set(typed)
    assert "from 85 to 100 °C" in errors["near_c"]
    assert "has to lie below “Complete from” (98 %)" in errors["doubtful_percent"]
    text = text_of(answer)
    assert 'value="120"' in text
    assert 'name="overshoot_k" value="6"' in text
    assert not CureLimitsChange.objects.exists()


def test_a_page_sent_untouched_says_that_nothing_was_changed(manager: Client) -> None:
    answer = manager.post(reverse(URL), shown(manager))

    assert answer.status_code == 422
    assert "Nothing was changed" in answer.content.decode()


def test_a_change_of_a_limit_that_is_no_more_is_still_told(manager: Client, shop: Shop) -> None:
    manager.post(reverse(URL), shown(manager, near_c="92"))
    CureLimitsChange.objects.update(before={"steam": 3.5}, after={"steam": 4.0})

    assert "steam: 3.5, then 4" in text_of(manager.get(reverse(URL)))


def test_only_a_manager_sees_the_page(client: Client, shop: Shop) -> None:
    client.force_login(shop.people["mara"].user)

    assert client.get(reverse(URL)).status_code in {403, 404}


def test_the_resins_lead_to_the_limits(manager: Client) -> None:
    assert reverse(URL) in manager.get(reverse("cases:resins")).content.decode()
