"""Saving the route: versions with their differences, and what is refused."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from cases.domain.route import EdgeSpec, RouteTemplate, default_template
from cases.models import PersonSkill, RouteVersion, Station
from cases.services import route_edit
from cases.services.verify_record import verify_record
from tests.factories import Shop, make_shop
from tests.services.test_tablets import refused

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    return make_shop()


def changed(key: str, **fields: Any) -> RouteTemplate:
    """Return the default route with one stage changed."""
    template = default_template()
    stages = tuple(
        replace(stage, **fields) if stage.key == key else stage for stage in template.stages
    )
    return replace(template, stages=stages)


def save(shop: Shop, template: RouteTemplate, who: str = "pavo", **more: Any) -> Any:
    entries = {"base": 1, "document": template.to_json(), "reason": "measured", **more}
    return route_edit.save_route(shop.envelope(who), **entries)


def test_saved_route_is_a_version_with_its_difference(shop: Shop) -> None:
    outcome = save(shop, changed("wax", minutes={"*": {"fixed": 9}}))

    row = RouteVersion.objects.get(version=2)
    assert outcome.result["changes"] == row.changes
    assert "minutes changed" in row.changes[0]
    assert (row.by, row.reason) == (shop.people["pavo"], "measured")
    assert RouteTemplate.from_json(RouteVersion.objects.get(version=1).document) == (
        default_template()
    )
    assert verify_record() == []


def test_route_is_refused(shop: Shop) -> None:
    template = changed("wax", name="Wax it up")
    cycle = replace(template, edges=(*template.edges, EdgeSpec("wax", "trim")))

    refused("not-allowed", save, shop, template, "mara")
    refused("no-reason", save, shop, template, reason=" ")
    refused("no-change", save, shop, default_template())
    refused("route-changed", save, shop, template, base=7)
    refused("route-unreadable", save, shop, template, document={"stages": "none"})
    assert "wait for each other" in refused("route-unsound", save, shop, cycle).sentence
    assert RouteVersion.objects.count() == 1


def test_stage_that_nobody_has_the_skill_for_is_refused(shop: Shop) -> None:
    PersonSkill.objects.filter(skill__key="join").delete()

    refusal = refused("route-unsound", save, shop, changed("wax", name="Wax it up"))

    assert "nobody has it" in refusal.sentence


def test_unknown_station_is_refused(shop: Shop) -> None:
    refusal = refused("route-unsound", save, shop, changed("wax", station="moon"))

    assert "no such station" in refusal.sentence
    assert not Station.objects.filter(key="moon").exists()


def test_second_manager_does_not_overwrite_the_first(shop: Shop) -> None:
    save(shop, changed("wax", name="Wax it up"))

    refused("route-changed", save, shop, changed("teeth", name="Set them"))

    assert RouteVersion.objects.count() == 2


def test_dropped_stage_is_bridged_with_both_waits() -> None:
    template = default_template()
    into = next(edge for edge in template.edges if edge.after == "trim")

    after = route_edit.drop_stage(template, "trim")

    assert all("trim" not in (edge.before, edge.after) for edge in after.edges)
    bridge = [edge for edge in after.edges if edge.before == into.before]
    assert any(edge.min_wait >= into.min_wait for edge in bridge)
    assert all(check.stage != "trim" for check in after.checks)


def test_new_stage_stands_after_what_it_follows_and_gets_a_key_of_its_own() -> None:
    template = default_template()
    wax = next(stage for stage in template.stages if stage.key == "wax")
    keys = [route_edit.free_stage_key(template, name) for name in ("Wax", "Finish", "New")]
    new = replace(wax, key="carve", name="Carve")

    after = route_edit.put_stage(template, new, [EdgeSpec("wax", "carve")])

    order = [stage.key for stage in after.stages]
    assert keys == ["wax-2", "finish-stage", "new-stage"]
    assert order.index("carve") == order.index("wax") + 1
