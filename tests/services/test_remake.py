from __future__ import annotations

import pytest

from cases.models import Case, Thing
from cases.services.design import set_design
from cases.services.record import Refusal
from cases.services.remake import remake_case
from cases.services.verify_record import verify_record
from tests.factories import DESIGN, make_case, make_shop, rows

pytestmark = pytest.mark.django_db


def test_remake_from_kept_casts_is_a_linked_case_without_a_pour() -> None:
    shop = make_shop()
    case = make_case(shop)
    set_design(shop.envelope(), case=case.pk, version=case.version, data=DESIGN)
    rows(lambda record: {"cast": record.create(Thing, kind="cast", label="working", case=case)})
    case.refresh_from_db()

    result = remake_case(
        shop.envelope("noor"), case=case.pk, version=case.version, reason="wrong-bite",
        origin="not-known", start="kept-master", appointment_on="2026-12-23",
    ).result  # fmt: skip

    made = Case.objects.get(pk=result["case"])
    assert (made.remake_of, made.kind) == (case, "remake")
    assert (made.remake_reason, made.remake_origin) == ("wrong-bite", "not-known")
    assert not made.stages.filter(key="pour").exists()
    assert made.design is not None
    assert made.design.data["bar"] is True
    assert made.design.data["provisional"] is True
    assert Thing.objects.get(kind="cast").case == made
    case.refresh_from_db()
    assert (case.state, case.closed_reason) == ("cancelled", f"Made again as {made.number}.")
    assert verify_record() == []


def test_remake_from_a_new_impression_waits_for_it() -> None:
    shop = make_shop()
    case = make_case(shop)

    result = remake_case(
        shop.envelope("noor"), case=case.pk, version=case.version, reason="wrong-bite",
        origin="bench", start="new-impression", appointment_on="2026-12-23",
    ).result  # fmt: skip

    made = Case.objects.get(pk=result["case"])
    assert made.stages.filter(key="trim").exists()
    assert made.received.get(item="working").state == "expected"
    assert made.holds.filter(reason="record-or-cast", released_at__isnull=True).exists()


@pytest.mark.parametrize(
    ("entry", "code"),
    [
        ({"reason": "because"}, "no-reason"),
        ({"origin": ""}, "no-origin"),
        ({"start": "scratch"}, "no-start"),
        ({"appointment_on": "soon"}, "no-day"),
    ],
)
def test_remake_is_refused_and_leaves_nothing(entry: dict[str, str], code: str) -> None:
    shop = make_shop()
    case = make_case(shop)
    given = {"reason": "pores", "origin": "bench", "start": "kept-master", **entry}

    with pytest.raises(Refusal) as refused:
        remake_case(shop.envelope("noor"), case=case.pk, version=case.version, **given)

    assert refused.value.code == code
    assert Case.objects.count() == 1
