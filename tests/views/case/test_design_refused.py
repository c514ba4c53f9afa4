"""What a design cannot be, or is not yet, is said beside the entry that it is about."""

from __future__ import annotations

import pytest

from tests.factories import Shop
from tests.views.case.conftest import SignIn, case_at, entries, url
from tests.views.case.test_design import stands, untouched
from tests.views.case.test_design_live import press, typed_by

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(
    ("typed", "entry", "said"),
    [
        ({"clasps": "36, 45"}, "clasps", "36 is missing"),
        ({"wire_35": "2,0", "system_35": "mm"}, "wire_35", "clasps are bent of"),
        ({"arm_35": "25"}, "arm_35", "does not lie on 35"),
        ({"bar_size": "5.0"}, "bar_size", "no wire for a clasp or a bar"),
        ({"wire_35": "99", "system_35": "unknown"}, "wire_35", "99 by which table?"),
        ({"wire_35": "41", "system_35": "awg"}, "wire_35", "gauges run from 0 to 40"),
        ({"gaps": "36"}, "gaps", "36 is entered as replaced and as not replaced. Choose one."),
        ({"out": "36"}, "out", "36 is entered as replaced and as not replaced. Choose one."),
        ({"gaps": "33", "out": "33"}, "out", "33 is entered as missing already and as taken out."),
        ({"clasps": "35, LR5"}, "clasps", "“LR5” names no tooth in the FDI system."),
        ({"gap_36": "99"}, "gap_36", "less than or equal to 20"),
    ],
)
def test_what_no_design_can_be_is_refused_beside_its_entry(
    shop: Shop, sign_in: SignIn, typed: dict[str, str], entry: str, said: str
) -> None:
    case = case_at(shop, "trim")
    client = sign_in("mara")
    sent = stands(client, case) | typed
    refused = client.post(url("case-design", case), entries(**sent, draft="1"))
    assert refused.status_code == 422
    (error,) = refused.context["form"].errors[entry]
    assert said in error
    body = refused.content.decode()
    assert f'id="id_{entry}_error"' in body
    assert f'aria-describedby="id_{entry}_error"' in body or f"id_{entry}_helptext" in body
    assert case.designs.count() == 1


@pytest.mark.parametrize(
    ("typed", "entry", "said"),
    [
        ({"method": "none", "blocked": "35 distal"}, "method", "the method is none"),
        ({"tilt_deg": "8", "tilt_to": ""}, "tilt_deg", "is said to be level"),
        ({"wire_35": "18", "system_35": "unknown"}, "wire_35", "18 by which table? 1.02 mm (AWG)"),
        ({"plate_thick": "2", "bar": "yes", "bar_size": "2.3", "bar_relief": "1"}, "plate_thick",
         "The bar reaches 2.15 mm from the cast"),
    ],
)  # fmt: skip
def test_what_is_not_whole_is_kept_as_a_draft_comes_back_and_cannot_be_finished(
    shop: Shop, sign_in: SignIn, typed: dict[str, str], entry: str, said: str
) -> None:
    case = case_at(shop, "trim")
    client = sign_in("mara")
    sent = stands(client, case) | typed

    refused = client.post(url("case-design", case), entries(**sent))
    assert (refused.status_code, case.designs.count()) == (422, 1)
    (error,) = refused.context["form"].errors[entry]
    assert said in error

    kept = client.post(url("case-design", case), entries(**sent, draft="1"))
    assert (kept.status_code, case.designs.count()) == (303, 2)
    again = untouched(client, case)
    assert {name: str(again.get(name, "")) for name in typed} == typed
    # The class and the rules go on being said.
    assert client.get(url("case-design", case)).context["kennedy"] == "I"


def test_what_cannot_be_is_refused_in_the_numbering_of_the_reader(
    shop: Shop, sign_in: SignIn
) -> None:
    case = case_at(shop, "trim")
    client = sign_in("mara")
    there = press(client, case, stands(client, case), show_in="universal")
    typed = typed_by(there) | {"clasps": "20, 19"}  # 35, which stands, and 36, which is replaced
    refused = client.post(url("case-design", case), entries(**typed, draft="1"))
    assert refused.status_code == 422
    said = "19 is missing: it cannot carry a clasp. Choose another."
    assert said in refused.context["form"].errors["clasps"]

    # What the rules refuse comes from the record, which knows FDI only.
    unbraced = typed_by(there) | {"bracing_35": ""}
    refused = client.post(url("case-design", case), entries(**unbraced))
    (said,) = refused.context["form"].errors["bracing_35"]
    assert "the clasp at 20 from the other side" in said


@pytest.mark.parametrize(
    ("typed", "entry", "said"),
    [
        ({"tilt_deg": "", "tilt_to": "", "marked": ""}, "tilt_deg", "No tilt is recorded."),
        ({"bracing_35": ""}, "bracing_35", "What faces the clasp at 35"),
        ({"height_35": ""}, "height_35", "How high the bracing behind 35"),
        ({"height_35": "-1"}, "height_35", "is drawn 1 mm below the survey line."),
        ({"meets_35": ""}, "meets_35", "is not judged."),
        ({"meets_35": "no"}, "meets_35", "The tip of the clasp meets 35"),
        ({"wraps_35": "no"}, "wraps_35", "do not reach past half the round of 35"),
        ({"room_35": "1"}, "room_35", "where the wire of 35 crosses the bite"),
        ({"joint_35": "2"}, "joint_35", "from the free arm of 35"),
        ({"method": "wax-then-copy", "method_reason": ""}, "method_reason", "Choose the reason"),
        ({"arm_35": "7.5"}, "arm_35", "The wire at 35 may stay bent"),
        ({"arm_35": "5"}, "arm_35", "The wire at 35 will stay bent"),
        ({"level_35": "0"}, "level_35", "nothing at level"),
        ({"flat_35_buccal": "0"}, "flat_35_buccal", "nothing at level"),
        ({"unrelieved": "35 lingual"}, "unrelieved", "At 35 lingual the relief"),
        ({"cover_left_pad": ""}, "cover_left_pad", "how far the pad of this free end"),
        ({"cover_left_pad": "as-cast"}, "cover_left_pad", "less than in its front half"),
        ({"bar": "yes", "bar_in_grinding": "on"}, "bar_in_grinding", "where the dentist may grind"),
        ({"plate_thick": "1.5"}, "plate_thick", "The acrylic is 1.5 mm thick"),
        ({"extracted": "34"}, "extracted", "34 is taken out at delivery"),
    ],
)
def test_a_rule_about_one_entry_refuses_beside_it(
    shop: Shop, sign_in: SignIn, typed: dict[str, str], entry: str, said: str
) -> None:
    case = case_at(shop, "trim")
    client = sign_in("mara")
    sent = {name: one for name, one in (stands(client, case) | typed).items() if one}
    refused = client.post(url("case-design", case), entries(**sent))
    assert refused.status_code == 422
    errors = refused.context["form"].errors
    assert said in " ".join(errors[entry])
    assert said not in " ".join(errors["__all__"])


def test_an_allergy_refuses_beside_each_part_that_it_concerns(shop: Shop, sign_in: SignIn) -> None:
    case = case_at(shop, "trim")
    case.order = {**case.order, "allergies": ["nickel", "acrylic"]}
    case.save(update_fields=["order"])
    client = sign_in("mara")
    sent = stands(client, case) | {"rests": "34", "bar": "yes"}
    errors = client.post(url("case-design", case), entries(**sent)).context["form"].errors
    steel = "the steel of this part holds nickel"
    said = {
        "alloy_35": "the wire at 35",
        "rests": steel,
        "bar": steel,
        "told": "allergy to acrylic",
    }
    assert {name: words in " ".join(errors[name]) for name, words in said.items()} == dict.fromkeys(
        said, True
    )
    # Above the form stand only the ways out.
    assert len(errors["__all__"]) == 1
    assert errors["__all__"][0].startswith("Mend what is marked")
