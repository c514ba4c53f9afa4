"""The remedies on the page of a load: wanted, there, none; and the estimate's own word beside."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from cases.models import Load
from cases.services.remedies import reckon_wanted
from tests.factories import Shop, make_shop
from tests.services.test_remedies import warned

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    return make_shop()


def part(client: Client, load: Load) -> str:
    answer = client.get(reverse("cases:load-remedies", args=[load.number]))
    assert answer.status_code == 200
    return answer.content.decode()


def test_they_are_asked_for_anew_until_they_are_there(client: Client, shop: Shop) -> None:
    bench, row = warned(shop)
    client.force_login(shop.people["pavo"].user)
    url = reverse("cases:load-remedies", args=[row.number])

    page = client.get(reverse("cases:load", args=[row.number])).content.decode()
    assert "The heat model reckons it" in page
    assert f'hx-get="{url}"' in part(client, row)
    reckon_wanted(bench.now)

    shown = part(client, row)
    assert "hx-get" not in shown
    assert "Slower up to 100 °C: in 60 min instead of 30" in shown
    assert "First 90 min at 74 °C, then as the program says" in shown
    assert "30 min more" in shown
    assert shown.index("Slower up") < shown.index("A thinner flask")
    assert "does not lower it" in shown[shown.index("A thinner flask") :]
    assert "Estimates, each reckoned by itself." in shown


def test_the_thickest_flask_may_be_left_for_another_load(client: Client, shop: Shop) -> None:
    bench, row = warned(shop, cases=2)
    assert row.sound["thicknesses"] == [5.0, 12.0]
    client.force_login(shop.people["pavo"].user)

    reckon_wanted(bench.now)

    assert "The thickest flask (12 mm) in another load: then 5 mm is the thickest" in part(
        client, row
    )


def test_a_load_without_an_estimate_has_none(client: Client, shop: Shop) -> None:
    _bench, row = warned(shop)
    Load.objects.filter(pk=row.pk).update(sound={})
    client.force_login(shop.people["pavo"].user)

    answer = client.get(reverse("cases:load-remedies", args=[row.number]))

    assert answer.status_code == 204
    assert client.get(reverse("cases:load-remedies", args=[99])).status_code == 404
