"""The page of the design's rules: each with its source, its limits changed and put back."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from cases.domain.design_review import RULES
from cases.forms.rule_limits import every_limit
from cases.models import Lab
from tests.factories import Shop, make_shop

pytestmark = pytest.mark.django_db

URL = "cases:design-rules"


@pytest.fixture
def shop() -> Shop:
    return make_shop()


@pytest.fixture
def manager(client: Client, shop: Shop) -> Client:
    client.force_login(shop.people["pavo"].user)
    return client


def shown(client: Client) -> dict[str, Any]:
    """Return what a browser sends of the page untouched, with what it was shown."""
    form = client.get(reverse(URL)).context["form"]
    typed = {field.html_name: field.value() for field in form}
    return typed | {field.html_initial_name: field.value() for field in form}


def test_every_rule_stands_under_one_heading_with_its_source(manager: Client) -> None:
    families = manager.get(reverse(URL)).context["families"]

    listed = [rule for _key, _words, rules in families for rule in rules]
    assert sorted(rule.id for rule in listed) == sorted(RULES)
    assert all(rule.source == RULES[rule.id].source for rule in listed)
    assert not [rule.sentence for rule in listed if "%(" in rule.sentence]
    assert sum(len(rule.limits) for rule in listed) == len(list(every_limit()))


def test_only_what_was_touched_is_changed_and_marked_in_words(manager: Client) -> None:
    page = shown(manager)
    Lab.objects.update(rule_limits={"CLP-12": {"away": 7.0}})

    answer = manager.post(reverse(URL), page | {"PATH-1-tilt": "8,5"}, follow=True)

    assert Lab.objects.get().rule_limits == {"PATH-1": {"tilt": 8.5}, "CLP-12": {"away": 7.0}}
    text = answer.content.decode()
    assert "2 limits are changed" in text
    assert answer.context["changed"] == ["PATH-1", "CLP-12"]
    assert "Changed here; usual is 10°." in text
    assert "2 limits changed" in manager.get(reverse("cases:lab")).content.decode()


def test_a_limit_goes_back_by_its_button_or_by_being_emptied(manager: Client) -> None:
    Lab.objects.update(rule_limits={"PATH-1": {"tilt": 8.0}, "CLP-12": {"away": 7.0}})

    manager.post(reverse(URL), {"usual": "PATH-1-tilt"})
    assert Lab.objects.get().rule_limits == {"CLP-12": {"away": 7.0}}
    manager.post(reverse(URL), shown(manager) | {"CLP-12-away": ""})
    assert Lab.objects.get().rule_limits == {}


def test_every_value_out_of_bounds_is_refused_beside_its_field(manager: Client) -> None:
    typed = {"PATH-1-tilt": "90", "CLP-12-away": "many", "CLP-11-least": "3"}

    answer = manager.post(reverse(URL), shown(manager) | typed)

    assert answer.status_code == 422
    errors = answer.context["form"].errors
    assert set(errors) == set(typed)
    assert "is a number from 3 to 20°" in errors["PATH-1-tilt"][0]
    assert "would lie above" in errors["CLP-11-least"][0]
    assert 'value="90"' in answer.content.decode()
    assert Lab.objects.get().rule_limits == {}


@pytest.mark.parametrize("sent", [{"usual": "PATH-1-source"}, {"usual": ""}])
def test_a_button_of_no_limit_changes_nothing(manager: Client, sent: dict[str, str]) -> None:
    answer = manager.post(reverse(URL), sent, follow=True)

    assert "Nothing was changed" in answer.content.decode()
    assert Lab.objects.get().rule_limits == {}


def test_a_page_sent_untouched_says_that_nothing_was_changed(manager: Client) -> None:
    answer = manager.post(reverse(URL), shown(manager))

    assert answer.status_code == 422
    assert "Nothing was changed" in answer.content.decode()
