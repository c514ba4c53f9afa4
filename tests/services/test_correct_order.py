from __future__ import annotations

from datetime import datetime

import pytest

from cases.domain.order import Item
from cases.models import Case, Event, Question
from cases.services.correct_order import ask_for_change, correct_order
from cases.services.design import set_design
from cases.services.record import Refusal
from cases.services.verify_record import verify_record
from tests.factories import DESIGN, make_case, make_shop

pytestmark = pytest.mark.django_db


def test_correction_changes_the_case_and_keeps_what_came(now: datetime) -> None:
    shop = make_shop()
    case = make_case(shop)

    correct_order(
        shop.envelope("noor"), case=case.pk, version=case.version,
        changes={"shade": "A3", "shade_how": "named"}, reason="Mistyped",
    )  # fmt: skip

    case.refresh_from_db()
    assert (case.order["shade"], case.order["shade_how"]) == ("A3", "named")
    assert case.prescription.as_received["shade"] == ""
    event = Event.objects.get(kind="order.corrected")
    assert event.facts["fields"] == ["shade", "shade_how"]
    assert event.corrects is not None
    assert event.corrects.kind == "case.logged"
    assert case.notes.get().text == "Mistyped"
    assert verify_record() == []


def test_correction_of_the_polish_takes_the_stage_out_of_the_route() -> None:
    shop = make_shop()
    case = make_case(shop)

    correct_order(
        shop.envelope("noor"), case=case.pk, version=case.version,
        changes={"polish": "none"}, reason="Read again",
    )  # fmt: skip

    assert case.stages.get(key="polish").state == "dropped"


def test_correction_of_teeth_expects_the_design_anew_before_the_survey() -> None:
    shop = make_shop()
    case = make_case(shop)

    correct_order(
        shop.envelope("noor"), case=case.pk, version=case.version,
        changes={"replaces": [46, 47]}, reason="Left side is not ordered",
    )  # fmt: skip

    case.refresh_from_db()
    assert case.design is not None
    assert (case.design.version, case.design.data["replaced"]) == (2, [46, 47])


def test_correction_of_teeth_leaves_a_drawn_design_alone() -> None:
    shop = make_shop()
    case = make_case(shop)
    set_design(shop.envelope(), case=case.pk, version=case.version, data=DESIGN)
    case.refresh_from_db()

    correct_order(
        shop.envelope("noor"), case=case.pk, version=case.version,
        changes={"replaces": [46, 47]}, reason="Left side is not ordered",
    )  # fmt: skip

    case.refresh_from_db()
    assert case.design is not None
    assert case.design.data["replaced"] == DESIGN["replaced"]


def test_reference_is_corrected_on_both_of_a_pair_and_not_on_the_prescription() -> None:
    shop = make_shop()
    box = tuple(Item("working", "cast", arch=arch) for arch in ("upper", "lower"))
    case = make_case(shop, arch="both", replaces=(16, 46), items=box)

    correct_order(
        shop.envelope("noor"), case=case.pk, version=case.version, changes={},
        patient_ref="Q-1181", reason="Typed wrong",
    )  # fmt: skip

    assert list(Case.objects.values_list("patient_ref", flat=True)) == ["Q-1181", "Q-1181"]
    assert case.prescription.patient_ref == "Q-1180"
    assert verify_record() == []


@pytest.mark.parametrize(
    ("changes", "reason", "reference", "code"),
    [
        ({"replaces": [11]}, "x", "", "bad-order"),
        ({"shade": "A3"}, " ", "", "no-reason"),
        ({"items": []}, "x", "", "no-field"),
        ({"appointment_on": "soon"}, "x", "", "bad-order"),
        ({}, "x", "", "nothing-changed"),
        ({}, "x", "Miller", "bad-reference"),
    ],
)
def test_correction_is_refused(
    changes: dict[str, object], reason: str, reference: str, code: str
) -> None:
    shop = make_shop()
    case = make_case(shop)

    with pytest.raises(Refusal) as refused:
        correct_order(
            shop.envelope("noor"), case=case.pk, version=case.version,
            changes=changes, reason=reason, patient_ref=reference,
        )  # fmt: skip

    assert refused.value.code == code


def test_bench_may_correct_finish_orders_only() -> None:
    shop = make_shop()
    case = make_case(shop)

    correct_order(
        shop.envelope("mara", door="bench"), case=case.pk, version=case.version,
        changes={"borders": "as-drawn"}, reason="Drawn on the cast",
    )  # fmt: skip
    with pytest.raises(Refusal) as refused:
        correct_order(
            shop.envelope("mara", door="bench"), case=case.pk, version=case.version + 1,
            changes={"shade": "A1"}, reason="x",
        )  # fmt: skip

    assert refused.value.code == "not-allowed"


def test_change_of_mind_is_asked_and_holds_its_stage() -> None:
    shop = make_shop()
    case = make_case(shop)
    teeth = case.stages.get(key="teeth")

    ask_for_change(
        shop.envelope("noor"), case=case.pk, version=case.version,
        change="Shade A3 instead of A2", rang="Remy", stage=teeth.pk,
    )  # fmt: skip

    question = Question.objects.get(number=25)
    assert question.holds.get().stages == ["teeth"]
    assert case.notes.get().from_whom == "Remy"


def test_work_of_a_packed_case_is_not_changed_in_its_box() -> None:
    shop = make_shop()
    case = make_case(shop)
    Case.objects.filter(pk=case.pk).update(state="packed")

    with pytest.raises(Refusal) as refused:
        correct_order(
            shop.envelope("noor"), case=case.pk, version=case.version,
            changes={"polish": "none"}, reason="Read again",
        )  # fmt: skip

    assert refused.value.code == "case-packed"
