"""The long design page has links to its parts, with what wants mending in each."""

from __future__ import annotations

import re

import pytest

from cases.domain.design_review import RULES
from cases.views.case.design_nav import _RULES, PARTS, part_of_field
from tests.factories import Shop
from tests.views.case.conftest import SignIn, case_at, entries, url
from tests.views.case.test_design import HX, stands

pytestmark = pytest.mark.django_db


def test_every_link_leads_to_a_part_of_the_page(shop: Shop, sign_in: SignIn) -> None:
    case = case_at(shop, "survey")
    text = sign_in("mara").get(url("case-design", case)).content.decode()
    links = re.findall(r'<li><a href="#(part-[a-z-]+)">', text)
    assert links == [f"part-{key}" for key, _words in PARTS]
    for anchor in links:
        assert text.count(f'id="{anchor}"') == 1


def test_what_wants_mending_is_counted_where_it_is_entered(shop: Shop, sign_in: SignIn) -> None:
    case = case_at(shop, "survey")
    client = sign_in("mara")
    typed = stands(client, case) | {"bracing_45": "none", "height_35": "high"}

    response = client.post(url("case-design", case), entries(**typed))

    counts = {link.anchor: link.count for link in response.context["parts"]}
    assert counts["part-hold"] == 2  # the rule about 45, and a height that cannot be read
    assert counts["part-rules"] == 1
    assert counts["part-survey"] == 0
    live = client.post(url("case-design-preview", case), entries(**typed), headers=HX)
    assert 'id="design-parts"' in live.content.decode()
    assert 'hx-swap-oob="true"' in live.content.decode()


def test_every_rule_and_entry_has_its_part(shop: Shop, sign_in: SignIn) -> None:
    keys = {key for key, _words in PARTS}
    assert {rule.split("-")[0] for rule in RULES} == set(_RULES)
    assert set(_RULES.values()) <= keys
    case = case_at(shop, "trim")
    text = sign_in("mara").get(url("case-design", case)).content.decode()
    sections = re.split(r'(?=<section class="form-section")', text)[1:]
    checked = 0
    for section in sections:
        anchor = re.search(r'id="part-([a-z-]+)"', section)
        assert anchor is not None
        for name in re.findall(r'(?:<input|<select)[^>]* name="([a-z_0-9]+)"', section):
            if name in {"tool", "show_in", "touch"}:
                continue
            checked += 1
            assert part_of_field(name) == anchor[1], name
    assert checked > 30
