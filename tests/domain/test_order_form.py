"""The order as received: stored and read back unchanged, split for a pair, read by the route."""

import json
from dataclasses import replace
from datetime import UTC, date, datetime, time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cases.domain.design import WorkOrder
from cases.domain.order_form import Disinfection, Extraction, Item, OrderForm

TAKEN = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)
WORKING = Item("working", form="impression", material="alginate", taken_at=TAKEN, tray="stock")

FULL = OrderForm(
    kind="remake",
    arch="lower",
    remake_start="new-impression",
    description="Lower partial, two clasps",
    replaces=(35, 36, 46),
    extractions=(Extraction(36, "1mm"),),
    extraction_order=True,
    shade_how="named",
    shade="A2",
    shade_guide="the usual guide",
    mould_how="as-before",
    materials="heat-cured acrylic, nickel-free wire",
    borders="as-drawn",
    polish="outer-borders-left",
    bite="record",
    try_in=False,
    allergies=("nickel", "other-allergy"),
    allergy_words="latex",
    ordered_on=date(2026, 3, 1),
    appointment_on=date(2026, 3, 12),
    appointment_time=time(9, 30),
    needed_on=date(2026, 3, 11),
    rush=True,
    received_at=datetime(2026, 3, 2, 8, 30, tzinfo=UTC),
    items=(WORKING, Item("bite", follows_later=True, expected_on=date(2026, 3, 4))),
    disinfection=Disinfection("yes", "practice", "spray", 10, TAKEN),
    dentist_named=True,
    signed=True,
    licence_given=True,
)


@pytest.mark.parametrize("order", [FULL, OrderForm()])
def test_order_survives_storage_unchanged(order: OrderForm) -> None:
    stored = json.dumps(order.to_json())

    assert OrderForm.from_json(json.loads(stored)) == order
    assert json.dumps(OrderForm.from_json(json.loads(stored)).to_json()) == stored


def test_to_json_writes_dates_and_teeth_plainly() -> None:
    data = FULL.to_json()

    assert data["appointment_on"] == "2026-03-12"
    assert data["appointment_time"] == "09:30:00"
    assert data["items"][0]["taken_at"] == "2026-03-02T08:00:00+00:00"
    assert data["extractions"] == [{"tooth": 36, "depth": "1mm"}]
    assert data["replaces"] == [35, 36, 46]


def test_order_holds_no_patient_and_no_names() -> None:
    assert not {"patient", "patient_ref", "dentist", "practice"} & set(OrderForm().to_json())


def test_from_json_fills_fields_added_later_with_their_defaults() -> None:
    assert OrderForm.from_json({"kind": "repair"}) == OrderForm(kind="repair")


def test_from_json_refuses_unknown_fields_and_unreadable_dates() -> None:
    with pytest.raises(TypeError):
        OrderForm.from_json({"colour": "pink"})
    with pytest.raises(ValueError, match="isoformat"):
        OrderForm.from_json({"needed_on": "soon"})


@given(
    st.builds(
        OrderForm,
        description=st.text(),
        replaces=st.lists(st.integers(11, 48)).map(tuple),
        try_in=st.none() | st.booleans(),
        needed_on=st.none() | st.dates(),
        received_at=st.none() | st.datetimes(timezones=st.just(UTC)),
    )
)
def test_every_order_survives_storage(order: OrderForm) -> None:
    assert OrderForm.from_json(json.loads(json.dumps(order.to_json()))) == order


@pytest.mark.parametrize(
    ("disinfection", "proven"),
    [
        (Disinfection(), False),
        (Disinfection("no"), False),
        (Disinfection("yes", "practice", "spray", 10), True),
        (Disinfection("yes", "", "spray", 10), False),
        (Disinfection("yes", "practice", " ", 10), False),
        (Disinfection("yes", "practice", "spray"), False),
        (Disinfection("not-known", "practice", "spray", 10), False),
    ],
)
def test_disinfection_is_proven_only_by_whom_with_what_and_how_long(
    disinfection: Disinfection, proven: bool
) -> None:
    assert disinfection.proven is proven


def test_item_is_an_impression_by_its_form() -> None:
    assert WORKING.is_impression
    assert not replace(WORKING, form="cast").is_impression


def test_found_gives_items_of_a_kind_and_arch() -> None:
    upper, lower = replace(WORKING, arch="upper"), replace(WORKING, arch="lower")
    bite = Item("bite")
    order = OrderForm(arch="both", items=(upper, lower, bite))

    assert order.found("working") == (upper, lower)
    assert order.found("working", arch="lower") == (lower,)
    assert order.found("bite", arch="lower") == (bite,)
    assert order.found("tray") == ()


def test_of_arch_splits_a_pair_and_sets_each_against_the_other() -> None:
    upper, lower = replace(WORKING, arch="upper"), replace(WORKING, arch="lower")
    order = OrderForm(
        arch="both",
        replaces=(11, 12, 36),
        extractions=(Extraction(11, "flush"), Extraction(36, "1mm")),
        items=(upper, lower, Item("bite")),
    )

    half = order.of_arch("lower")

    assert half.arch == "lower"
    assert half.replaces == (36,)
    assert half.extractions == (Extraction(36, "1mm"),)
    assert half.found("working") == (lower,)
    assert half.found("opposing") == (replace(upper, kind="opposing", arch="lower"),)
    assert half.found("bite") == (Item("bite"),)


def test_of_arch_keeps_an_opposing_arch_that_came() -> None:
    opposing = Item("opposing", form="cast")
    order = OrderForm(arch="both", items=(replace(WORKING, arch="upper"), opposing))

    assert order.of_arch("lower").found("opposing") == (opposing,)


def test_work_order_carries_the_facts_of_the_order() -> None:
    assert FULL.work_order() == WorkOrder(
        kind="remake",
        impressions_came=True,
        scan=False,
        casts=1,
        opposing=False,
        disinfection_proven=True,
        bite="record",
        try_in=False,
        borders="as-drawn",
        polish="outer-borders-left",
        remake_start="new-impression",
        alginate=True,
        pour_limit_minutes=15,
    )


@pytest.mark.parametrize(
    ("materials", "alginate", "limit"),
    [
        (("alginate", "addition-silicone"), True, 15),
        (("polyether", "condensation-silicone"), False, 60),
        (("addition-silicone", "long-alginate"), True, None),
        (("addition-silicone", ""), True, None),
        (("other",), False, None),
        ((), False, None),
    ],
)
def test_work_order_takes_the_most_delicate_impression(
    materials: tuple[str, ...], alginate: bool, limit: int | None
) -> None:
    items = tuple(Item("working", form="impression", material=key) for key in materials)

    order = OrderForm(items=items).work_order()

    assert (order.alginate, order.pour_limit_minutes) == (alginate, limit)


def test_work_order_prefers_the_makers_own_limit() -> None:
    item = Item("working", form="impression", material="long-alginate", pour_limit_minutes=6000)

    assert OrderForm(items=(item,)).work_order().pour_limit_minutes == 6000


def test_work_order_of_what_was_not_said_is_cautious() -> None:
    order = OrderForm(items=(WORKING, Item("opposing", form="impression"))).work_order()

    assert (order.casts, order.opposing, order.disinfection_proven) == (2, True, False)
    assert (order.borders, order.polish, order.bite) == ("left-full", "all-outer", "by-hand")
    assert order.try_in is False


@pytest.mark.parametrize(
    ("items", "impressions", "scan", "casts"),
    [
        ((Item("working", form="cast"), Item("opposing", form="cast")), False, False, 2),
        ((Item("working", form="scan"), Item("opposing", form="cast")), False, True, 1),
        ((Item("working", form="scan"),), False, True, 1),
        ((), False, False, 0),
    ],
)
def test_work_order_counts_impressions_scans_and_casts(
    items: tuple[Item, ...], impressions: bool, scan: bool, casts: int
) -> None:
    order = OrderForm(items=items).work_order()

    assert (order.impressions_came, order.scan, order.casts) == (impressions, scan, casts)
