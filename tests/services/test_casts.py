"""Which casts are good: what a pour, a trim, a copy, and taking each back leave behind."""

from __future__ import annotations

from datetime import timedelta

import pytest

from cases.models import Case, Event
from cases.services.new_impression import take_new_impression
from cases.services.send_back import send_back
from cases.services.undo import undo_stage
from cases.services.verify_record import verify_record
from tests.factories import DESIGN, NOW, Shop, make_case, make_shop
from tests.walk import Clock, walk

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    return make_shop()


@pytest.fixture
def copied(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every design of the walk asks for a copy of the cast."""
    monkeypatch.setattr(
        "tests.walk.DESIGN",
        {**DESIGN, "method": "wax-then-copy", "method_reason": "practice-asked"},
    )


def casts(case: Case) -> list[tuple[int, str, str]]:
    """Return what casts there are, oldest first: number, label, state."""
    rows = case.things.filter(kind="cast").order_by("pk")
    return [(row.pk, row.label, row.state) for row in rows]


def back(shop: Shop, case: Case, clock: Clock, to: str, stage: str = "trim") -> None:
    row = case.stages.get(key=stage)
    send_back(
        shop.envelope(now=clock.now), stage=row.pk, version=row.version, to=to, reason="cast-broken"
    )


def undo(shop: Shop, case: Case, clock: Clock, key: str) -> None:
    row = case.stages.get(key=key)
    undo_stage(shop.envelope("mara", now=clock.now), stage=row.pk, version=row.version)


def test_trimming_again_voids_only_casts_of_an_earlier_pour(shop: Shop) -> None:
    case = make_case(shop)
    clock = Clock(NOW)
    walk(shop, case, clock, until="trim")
    first = [pk for pk, _, _ in casts(case)]
    back(shop, case, clock, "pour")
    walk(shop, case, clock, until="trim")
    second = [pk for pk, _, _ in casts(case) if pk not in first]

    back(shop, case, clock, "trim")
    walk(shop, case, clock, until="trim")

    states = {pk: state for pk, _, state in casts(case)}
    assert len(second) == 2
    assert states == dict.fromkeys(first, "void") | dict.fromkeys(second, "in-use")
    assert verify_record() == []


def test_cast_whose_impression_stays_is_good_at_the_trim_of_the_new_one(shop: Shop) -> None:
    case = make_case(shop)
    clock = Clock(NOW)
    walk(shop, case, clock, until="trim")
    opposing = case.things.get(label="opposing").pk
    case.refresh_from_db()
    came = {
        "kind": "working", "form": "impression", "material": "alginate",
        "taken_at": (clock.now - timedelta(minutes=4)).isoformat(),
    }  # fmt: skip
    take_new_impression(
        shop.envelope("noor", now=clock.now), case=case.pk, version=case.version,
        items=[came], disinfection={"done": "not-known"}, words="A bubble in the rest seat.",
    )  # fmt: skip

    walk(shop, case, clock, until="trim")

    good = [(pk, label) for pk, label, state in casts(case) if state == "in-use"]
    assert [label for _, label in good] == ["opposing", "working"]
    assert good[0][0] == opposing


@pytest.mark.usefixtures("copied")
def test_undone_copy_leaves_no_cast_behind(shop: Shop) -> None:
    case = make_case(shop)
    clock = Clock(NOW)
    walk(shop, case, clock, until="copy-mould")
    before = casts(case)
    walk(shop, case, clock, until="copy-cast")
    assert [label for _, label, _ in casts(case)] == ["master", "opposing", "working"]
    copy = casts(case)[-1][0]

    undo(shop, case, clock, "copy-cast")

    assert casts(case) == before
    made = Event.objects.filter(kind="stage.finished", subject="copy-cast").get()
    assert copy in {one["pk"] for one in made.changes if one["m"] == "Thing"}
    assert verify_record() == []


@pytest.mark.usefixtures("copied")
def test_copy_taken_back_and_finished_again_is_one_copy(shop: Shop) -> None:
    from cases.services.stage import finish_stage

    case = make_case(shop)
    clock = Clock(NOW)
    walk(shop, case, clock, until="copy-cast")
    undo(shop, case, clock, "copy-cast")
    row = case.stages.get(key="copy-cast")

    finish_stage(shop.envelope("mara", now=clock.now), stage=row.pk, version=row.version)

    labels = sorted((label, state) for _, label, state in casts(case))
    assert labels == [("master", "in-use"), ("opposing", "in-use"), ("working", "in-use")]
    assert verify_record() == []


@pytest.mark.usefixtures("copied")
def test_undone_second_copy_makes_the_first_good_again(shop: Shop) -> None:
    case = make_case(shop)
    clock = Clock(NOW)
    walk(shop, case, clock, until="copy-cast")
    before = casts(case)
    back(shop, case, clock, "copy-cast", stage="copy-cast")
    walk(shop, case, clock, until="copy-cast")
    assert "void" in {state for _, _, state in casts(case)}

    undo(shop, case, clock, "copy-cast")

    assert casts(case) == before


def test_undone_trim_makes_what_it_voided_good_again(shop: Shop) -> None:
    case = make_case(shop)
    clock = Clock(NOW)
    walk(shop, case, clock, until="trim")
    before = casts(case)
    back(shop, case, clock, "pour")
    walk(shop, case, clock, until="trim")

    undo(shop, case, clock, "trim")

    assert casts(case) == before
