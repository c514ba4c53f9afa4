"""An order of a practice or dentist that is new here, logged in one transaction."""

from __future__ import annotations

from typing import Any

import pytest

from cases.models import Case, Dentist, Practice
from cases.services.intake import log_intake
from cases.services.record import Refusal
from cases.services.verify_record import verify_record
from tests.factories import Shop, make_order, make_shop

pytestmark = pytest.mark.django_db

FEN = {"name": "Fen Street", "ship_weekdays": [1, 3], "transit_days": 1, "cut_off": "15:00"}


@pytest.fixture
def shop() -> Shop:
    return make_shop()


def log(shop: Shop, who: str = "noor", **body: Any) -> dict[str, Any]:
    entered = {"practice": None, "patient_ref": "F-1", "order": make_order().to_json()} | body
    return log_intake(shop.envelope(who), **entered).result


class TestLogIntake:
    def test_new_practice_and_dentist_get_the_case(self, shop: Shop) -> None:
        result = log(shop, new_practice=FEN, new_dentist={"name": "Dr Reed", "licence": "77"})

        case = Case.objects.get(pk=result["cases"][0])
        assert (case.practice.code, case.practice.ship_weekdays) == ("FS", [1, 3])
        assert case.prescription.dentist == Dentist.objects.get(name="Dr Reed", licence="77")
        assert verify_record() == []

    def test_refusal_of_the_order_keeps_nothing(self, shop: Shop) -> None:
        with pytest.raises(Refusal) as refused:
            log(shop, new_practice=FEN, new_dentist={"name": "Dr Reed"}, patient_ref="NAME")

        assert refused.value.field == "patient_ref"
        assert not Practice.objects.filter(name="Fen Street").exists()
        assert not Dentist.objects.filter(name="Dr Reed").exists()

    @pytest.mark.parametrize(
        ("body", "code", "field"),
        [
            ({}, "no-practice", "practice"),
            ({"new_practice": {"name": " "}}, "no-name", "new_practice_name"),
            ({"new_practice": FEN | {"code": "UT"}}, "code-taken", "new_practice_code"),
            ({"new_practice": FEN, "new_dentist": {"name": ""}}, "no-name", "new_dentist_name"),
            ({"new_practice": FEN, "dentist": 999}, "no-dentist", "dentist"),
        ],
    )
    def test_refusal_names_the_entry_of_the_intake(
        self, shop: Shop, body: dict[str, Any], code: str, field: str
    ) -> None:
        with pytest.raises(Refusal) as refused:
            log(shop, **body)

        assert (refused.value.code, refused.value.field) == (code, field)

    def test_technician_may_not_log(self, shop: Shop) -> None:
        with pytest.raises(Refusal) as refused:
            log(shop, who="mara", practice=shop.practice.pk)

        assert refused.value.code == "not-allowed"
