"""The route editor: a draft gathers edits, a review shows them, saving makes a version."""

from __future__ import annotations

from html import unescape
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from cases.domain.check_spec import CheckSpec
from cases.domain.route import RouteTemplate
from cases.models import RouteVersion
from tests.factories import Shop, make_case, make_shop

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    return make_shop()


@pytest.fixture
def manager(client: Client, shop: Shop) -> Client:
    client.force_login(shop.people["pavo"].user)
    return client


def entries_of(client: Client, url: str) -> dict[str, Any]:
    """Return what a browser would send back from the page's form, untouched."""
    answer = client.get(url)
    context = answer.context
    forms = [context["form"]]
    tables = context["tables"]
    names = [name for name in ("edges", "holds", "nights", "measures") if hasattr(tables, name)]
    for name in names:
        table = getattr(tables, name)
        forms += [table.management_form, *table.forms]
    for row in getattr(tables, "again", []):
        forms += [item["form"] for item in row["limits"]]
    if context.get("then"):
        forms.append(context["then"])
    sent: dict[str, Any] = {}
    for form in forms:
        for field in form:
            value = field.value()
            if value is None or value is False:
                continue
            sent[field.html_name] = "on" if value is True else value
    return sent


def template() -> RouteTemplate:
    latest = RouteVersion.objects.order_by("-version").first()
    assert latest is not None
    return RouteTemplate.from_json(latest.document)


def by_number(check: CheckSpec) -> int:
    return check.number


def save(client: Client, reason: str = "tried it") -> Any:
    return client.post(reverse("cases:route-review"), {"reason": reason})


def test_stage_sent_back_untouched_changes_nothing(manager: Client) -> None:
    for key in ("receive", "block-out", "agree"):  # every stage: tests/forms/test_lab_route.py
        url = reverse("cases:route-stage", args=[key])

        answer = manager.post(url, entries_of(manager, url))

        assert (key, answer.status_code) == (key, 302)
    assert "Nothing is changed yet" in manager.get(reverse("cases:route-review")).content.decode()


def test_check_sent_back_untouched_changes_nothing(manager: Client) -> None:
    for number in (1, 12, 30):  # every check: tests/forms/test_lab_route.py
        url = reverse("cases:route-check", args=[number])

        answer = manager.post(url, entries_of(manager, url))

        assert (number, answer.status_code) == (number, 302)
    assert "Nothing is changed yet" in manager.get(reverse("cases:route-review")).content.decode()


def test_changed_minutes_make_a_version_and_open_cases_keep_theirs(
    manager: Client, shop: Shop
) -> None:
    case = make_case(shop)
    url = reverse("cases:route-stage", args=["wax"])
    manager.post(url, {**entries_of(manager, url), "minutes_every": "12 + 1.5 T"})
    review = manager.get(reverse("cases:route-review")).content.decode()

    answer = save(manager, "the record says so")

    latest = RouteVersion.objects.get(version=2)
    case.refresh_from_db()
    assert "minutes changed" in review
    assert answer["Location"] == reverse("cases:route-versions")
    assert (latest.reason, latest.by) == ("the record says so", shop.people["pavo"])
    wax = next(stage for stage in template().stages if stage.key == "wax")
    assert wax.minutes == {"*": {"fixed": 12, "T": 1.5}}
    assert case.template.version == 1


@pytest.mark.parametrize(
    ("entry", "value", "sentence"),
    [
        ("minutes_every", "4 + 2 Q", "is no part of a formula"),
        ("name", "", "required"),
        ("edges-0-max_wait", "0.5", "may not"),
        ("edges-0-min_wait", "-5", "greater than or equal to 0"),
        ("edges-0-min_wait", "soon", "Enter a number"),
    ],
)
def test_wrong_entry_is_refused_beside_its_field_and_kept(
    manager: Client, entry: str, value: str, sentence: str
) -> None:
    url = reverse("cases:route-stage", args=["trim"])

    sent = {**entries_of(manager, url), "edges-0-min_wait": "10", entry: value}
    answer = manager.post(url, sent)

    text = answer.content.decode()
    assert answer.status_code == 422
    assert sentence in text
    assert not value or f'value="{value}"' in text
    assert "route-draft" not in manager.session


def test_skill_that_nobody_has_is_refused_beside_its_field(manager: Client) -> None:
    manager.post(reverse("cases:skills"), {"name": "Laser welding"})
    url = reverse("cases:route-stage", args=["join"])

    answer = manager.post(url, {**entries_of(manager, url), "skill": "laser-welding"})

    assert answer.status_code == 422
    assert "nobody has it" in str(answer.context["form"].errors["skill"])


def test_cycle_stands_in_the_draft_and_cannot_be_saved(manager: Client) -> None:
    url = reverse("cases:route-stage", args=["trim"])
    sent = entries_of(manager, url)
    extra = int(sent["edges-TOTAL_FORMS"]) - 1
    manager.post(url, {**sent, f"edges-{extra}-before": "wax", f"edges-{extra}-when": "always"})

    review = manager.get(reverse("cases:route-review")).content.decode()
    answer = save(manager)

    assert "wait for each other" in review
    assert answer.status_code == 422
    assert RouteVersion.objects.count() == 1


def test_new_stage_without_a_way_on_cannot_be_saved_until_it_has_one(manager: Client) -> None:
    url = reverse("cases:route-stage-new")
    sent = {
        **entries_of(manager, url),
        "name": "Engrave the name",
        "kind": "attended",
        "when": "new-piece",
        "skill": "finish",
        "station": "bench",
        "minutes_every": "3",
        "photo_when": "always",
        "public_words": "The piece is being marked.",
        "edges-0-before": "finish",
        "edges-0-when": "always",
    }
    manager.post(url, sent)
    dead_end = manager.get(reverse("cases:route-review")).content.decode()
    manager.post(reverse("cases:route-discard"))

    manager.post(url, {**sent, "then": ["inspect"]})
    answer = save(manager)

    assert "leads nowhere" in dead_end
    assert answer.status_code == 302
    assert "engrave-the-name" in {stage.key for stage in template().stages}


def test_stage_taken_out_is_bridged(manager: Client) -> None:
    manager.post(reverse("cases:route-stage-drop", args=["index"]))
    answer = save(manager)

    after = template()
    assert answer.status_code == 302
    assert "index" not in {stage.key for stage in after.stages}
    assert all("index" not in (edge.before, edge.after) for edge in after.edges)


def test_route_without_a_cooling_is_advised_and_only_that(manager: Client) -> None:
    manager.post(reverse("cases:route-stage-drop", args=["cool"]))

    pages = [manager.get(reverse(f"cases:{name}")) for name in ("route", "route-review")]

    for page in pages:
        [told] = page.context["advice"]
        assert told["url"] == reverse("cases:route-stage", args=["deflask"])
        assert told["sentence"] in unescape(page.content.decode())
    assert told["sentence"] not in {one["sentence"] for one in pages[1].context["problems"]}


def test_check_is_changed_added_and_taken_out(manager: Client) -> None:
    url = reverse("cases:route-check", args=[30])
    sent = entries_of(manager, url)
    manager.post(url, {**sent, "again-0-edge-low": "0.6", "required": ""})
    new = reverse("cases:route-check-new")
    manager.post(
        new,
        {
            **entries_of(manager, new),
            "stage": "polish",
            "when": "always",
            "subjects": "whole",
            "words": "No wheel touched the fitting side.",
            "measures-0-words": "Gloss",
            "measures-0-unit": "GU",
            "measures-0-low": "60",
        },
    )
    manager.post(reverse("cases:route-check-drop", args=[1]))
    answer = save(manager)

    checks = {check.number: check for check in template().checks}
    added = checks[max(checks)]
    assert answer.status_code == 302
    assert 1 not in checks
    assert checks[30].again[0].limits == {"edge": (0.6, None)}
    assert not checks[30].required
    assert (added.stage, added.measures[0].unit, added.measures[0].low) == ("polish", "GU", 60)


def test_draft_of_an_older_version_is_put_away_with_words(manager: Client, shop: Shop) -> None:
    url = reverse("cases:route-stage", args=["wax"])
    manager.post(url, {**entries_of(manager, url), "minutes_every": "9"})
    other = Client()
    other.force_login(shop.people["pavo"].user)
    url = reverse("cases:route-stage", args=["teeth"])
    other.post(url, {**entries_of(other, url), "minutes_every": "9"})
    save(other)

    text = manager.get(reverse("cases:route")).content.decode()

    assert "were put away" in text
    assert "route-draft" not in manager.session


def test_unknown_stage_and_check_are_not_there(manager: Client) -> None:
    assert manager.get(reverse("cases:route-stage", args=["nowhere"])).status_code == 404
    assert manager.get(reverse("cases:route-check", args=[999])).status_code == 404
    assert manager.get(reverse("cases:route-version", args=[7])).status_code == 404


def test_saved_version_shows_the_route_as_it_was(manager: Client) -> None:
    text = manager.get(reverse("cases:route-version", args=[1])).content.decode()

    assert "Route 1, saved on" in text


def test_checks_that_came_with_the_program_are_offered_to_an_older_route(manager: Client) -> None:
    page, add = reverse("cases:route"), reverse("cases:route-add-checks")
    whole = template()
    assert manager.get(page).context["offered"] == []
    for number in (58, 59):
        manager.post(reverse("cases:route-check-drop", args=[number]))
    save(manager)
    older = template()

    offered = manager.get(page)
    manager.post(add)
    answer = save(manager, "two new checks")
    manager.post(add)

    numbers = {check.number for check in older.checks}
    assert {58, 59}.isdisjoint(numbers)
    assert [check.number for check, _stage in offered.context["offered"]] == [58, 59]
    assert add in offered.content.decode()
    assert answer.status_code == 302
    assert sorted(template().checks, key=by_number) == sorted(whole.checks, key=by_number)
    assert manager.get(page).context["draft"].changed is False


def test_check_of_a_stage_that_was_taken_out_is_not_offered(manager: Client) -> None:
    manager.post(reverse("cases:route-stage-drop", args=["index"]))

    offered = manager.get(reverse("cases:route")).context["offered"]

    assert "index" not in {check.stage for check, _stage in offered}
    assert all(look.stage != "index" for check, _stage in offered for look in check.again)
