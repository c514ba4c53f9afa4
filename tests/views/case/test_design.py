"""The design form: entered, touched, redrawn, stored, refused."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from cases.domain.design import Design
from cases.domain.teeth import teeth_of_arch
from cases.forms.design.form import DesignForm
from cases.models import Case
from cases.services.stage import start_stage
from tests.factories import Shop
from tests.views.case.conftest import SignIn, case_at, entries, url

pytestmark = pytest.mark.django_db

HX = {"HX-Request": "true"}


def untouched(client: Client, case: Case) -> dict[str, Any]:
    """Return the entries of the design page as a browser would send them untouched."""
    form = client.get(url("case-design", case)).context["form"]
    typed = {field.html_name: field.value() for field in form}
    typed["version"] = case.version
    return {name: value for name, value in typed.items() if value not in (None, False, "")}


def stands(client: Client, case: Case) -> dict[str, Any]:
    """Return them with what a finished design needs: survey, whole braced clasps, ends covered."""
    whole = {
        "wire": "0.9", "arm": "9.5", "undercut": "0.25", "tip": "mesial", "bracing": "plate",
        "height": "1", "meets": "yes",
    }  # fmt: skip
    clasps = {f"{name}_{t}": said for t in teeth_of_arch(case.arch) for name, said in whole.items()}
    ends = ("right_pad", "left_pad", "right_tuberosity", "left_tuberosity")
    covered = {f"cover_{end}": "whole" for end in ends}
    shown = {"mesial": "0.25", "distal": "0.25", "buccal": "0.25", "lingual": "0"}
    faces = {f"step_{t}_{side}": s for t in teeth_of_arch(case.arch) for side, s in shown.items()}
    return untouched(client, case) | {"marked": "on"} | clasps | covered | faces


def test_drawing_the_design_grows_the_work_from_it(shop: Shop, sign_in: SignIn) -> None:
    case = case_at(shop, "trim")
    client = sign_in("mara")
    typed = stands(client, case) | {
        "clasps": "34, 45", "wire_34": "0,8", "undercut_34": "0.25", "arm_34": "9.5",
        "bar": "yes", "method": "wax-then-copy", "method_reason": "practice-asked",
    }  # fmt: skip

    response = client.post(url("case-design", case), entries(**typed))

    assert response["Location"] == url("case", case) + "#design"
    case.refresh_from_db()
    assert case.design is not None
    data = case.design.data
    parts = ("tooth", "wire_mm", "undercut_mm", "free_arm_mm")
    assert [tuple(clasp[name] for name in parts) for clasp in data["clasps"]] == [
        (45, 0.9, 0.25, 9.5), (34, 0.8, 0.25, 9.5),
    ]  # fmt: skip
    assert (data["bar"], data["method"], data["provisional"]) == (True, "wax-then-copy", False)
    assert case.stages.filter(key="copy-cast", state="planned").exists()


def test_clasp_that_cannot_be_bent_is_refused_at_the_entries_and_kept_as_a_draft(
    shop: Shop, sign_in: SignIn
) -> None:
    case = case_at(shop, "trim")
    client = sign_in("mara")
    blank = ("wire_35", "arm_35", "undercut_35", "tip_35")
    typed = {name: said for name, said in stands(client, case).items() if name not in blank}

    refused = client.post(url("case-design", case), entries(**typed))
    errors = refused.context["form"].errors

    assert (refused.status_code, case.designs.count()) == (422, 1)
    assert [errors[name] for name in blank] == [
        ["No wire is said for 35. Enter its gauge or its millimetres."],
        [
            "The free arm at 35 is not said. Measure it along the wire, from where it leaves the "
            "acrylic to the tip."
        ],
        ["How deep the tip at 35 goes is not said. Choose the step of the gauge."],
        ["On which side of 35 the tip lies is not said. Choose mesial or distal."],
    ]
    body = refused.content.decode()
    assert "not said is its wire, free arm, undercut, side of the tip." in body
    assert all(body.count(str(errors[name][0])) >= 2 for name in blank)
    # Above the form stand only the ways out; the drawing beside it goes on saying what it said.
    assert errors["__all__"] == [
        "Mend what is marked, give a reason below where a concession may pass it, or keep a draft."
    ]
    assert refused.context["faults"] == []

    kept = client.post(url("case-design", case), entries(**typed, draft="1"))

    assert (kept.status_code, case.designs.count()) == (303, 2)


def test_design_is_finished_with_its_faces_surveyed_or_by_a_concession(
    shop: Shop, sign_in: SignIn
) -> None:
    case = case_at(shop, "trim")
    client = sign_in("mara")
    blind = {name: s for name, s in stands(client, case).items() if not name.startswith("step_35")}

    refused = client.post(url("case-design", case), entries(**blind))
    said = "The gauge has not been read at 35: distal, buccal, lingual."

    assert (refused.status_code, case.designs.count()) == (422, 1)
    assert said in refused.content.decode()
    for side in ("distal", "buccal", "lingual"):
        assert refused.context["form"].errors[f"step_35_{side}"] == [
            "Say what the gauge shows here at the tilt, or “none”."
        ]
    (row,) = [one for one in refused.context["rules"] if one.finding.rule == "PATH-6"]

    passed = client.post(url("case-design", case), entries(**blind, **{row.concede: "Cast broke"}))

    assert (passed.status_code, case.designs.count()) == (303, 2)


def test_form_sent_twice_makes_one_version(shop: Shop, sign_in: SignIn) -> None:
    case = case_at(shop, "trim")
    client = sign_in("mara")
    typed = entries(**stands(client, case) | {"bar": "yes", "polish": "none"})

    first = client.post(url("case-design", case), typed)
    second = client.post(url("case-design", case), typed)

    assert (first.status_code, second.status_code) == (303, 303)
    assert case.designs.count() == 2
    assert case.events.filter(kind="order.corrected").count() == 1


def test_later_change_wants_a_reason_and_keeps_what_was_typed(shop: Shop, sign_in: SignIn) -> None:
    case = case_at(shop, "survey")
    client = sign_in("mara")
    typed = stands(client, case) | {"rests": "43"}

    refused = client.post(url("case-design", case), entries(**typed))
    done = client.post(url("case-design", case), entries(**typed, reason="43 holds better"))

    assert (refused.status_code, done.status_code) == (422, 303)
    assert "Say why the design changes." in refused.content.decode()
    assert 'value="43"' in refused.content.decode()
    case.refresh_from_db()
    assert case.design is not None
    assert (case.design.reason, case.design.data["rests"]) == ("43 holds better", [43])


def test_tooth_of_the_other_arch_is_refused_beside_its_field(shop: Shop, sign_in: SignIn) -> None:
    case = case_at(shop, "trim")
    client = sign_in("mara")

    response = client.post(
        url("case-design", case), entries(**stands(client, case) | {"clasps": "14, 45"})
    )

    assert response.status_code == 422
    assert "14 is not a tooth of this arch." in response.content.decode()
    assert case.designs.count() == 1


def test_slip_beside_a_clasp_keeps_its_wire(shop: Shop, sign_in: SignIn) -> None:
    case = case_at(shop, "trim")
    client = sign_in("mara")
    typed = stands(client, case) | {"clasps": "45, 99", "wire_45": "0,9"}

    response = client.post(url("case-design", case), entries(**typed))

    assert response.status_code == 422
    assert 'name="wire_45" value="0,9"' in response.content.decode()


def test_range_of_clasps_is_read_with_blanks(shop: Shop, sign_in: SignIn) -> None:
    case = case_at(shop, "trim")
    client = sign_in("mara")
    typed = stands(client, case) | {"clasps": "33 - 35", "wire_34": "0.8"}

    client.post(url("case-design", case), entries(**typed))

    case.refresh_from_db()
    assert case.design is not None
    wires = {clasp["tooth"]: clasp["wire_mm"] for clasp in case.design.data["clasps"]}
    assert wires == {33: 0.9, 34: 0.8, 35: 0.9}


def test_clasp_on_a_missing_tooth_is_refused_in_words(shop: Shop, sign_in: SignIn) -> None:
    case = case_at(shop, "trim")
    client = sign_in("mara")

    response = client.post(
        url("case-design", case), entries(**stands(client, case) | {"clasps": "46"})
    )

    assert response.status_code == 422
    assert "46 is missing: it cannot carry a clasp." in response.content.decode()


def test_finish_orders_are_corrected_beside_the_design(shop: Shop, sign_in: SignIn) -> None:
    case = case_at(shop, "trim")
    client = sign_in("mara")

    client.post(url("case-design", case), entries(**stands(client, case) | {"polish": "none"}))

    case.refresh_from_db()
    assert (case.order["polish"], case.work_order["polish"]) == ("none", "none")
    assert case.prescription.as_received["polish"] == "all-outer"
    assert case.stages.get(key="polish").state == "dropped"


def test_preview_says_what_is_added_and_stores_nothing(shop: Shop, sign_in: SignIn) -> None:
    case = case_at(shop, "trim")
    client = sign_in("mara")
    typed = stands(client, case) | {"bar": "yes"}

    response = client.post(url("case-design-preview", case), typed, headers=HX)

    body = response.content.decode()
    assert "A bar." in body
    assert "This adds “Shape the bar” (18 min)." in body
    assert "more than before" in body
    assert "<form" not in body
    assert case.designs.count() == 1


def test_preview_shows_a_fault_instead_of_an_effect(shop: Shop, sign_in: SignIn) -> None:
    case = case_at(shop, "trim")
    client = sign_in("mara")
    typed = stands(client, case) | {"blocked": "35 behind"}

    body = client.post(url("case-design-preview", case), typed, headers=HX).content.decode()

    assert "“behind” is no side of a tooth." in body


def test_touched_tooth_gives_the_form_back_with_it(shop: Shop, sign_in: SignIn) -> None:
    case = case_at(shop, "trim")
    client = sign_in("mara")
    typed = stands(client, case) | {"tool": "clasps", "touch": "34"}

    response = client.post(
        url("case-design-preview", case), typed, headers={**HX, "HX-Target": "design-form"}
    )

    form = response.context["form"]
    assert form["clasps"].value() == "45, 34, 35"
    assert "wire_34" in form.fields
    assert "Clasp on 34." in response.content.decode()


def test_touch_works_without_scripts(shop: Shop, sign_in: SignIn) -> None:
    case = case_at(shop, "trim")
    client = sign_in("mara")
    typed = stands(client, case) | {"tool": "rests", "touch": "33"}

    body = client.post(url("case-design-preview", case), typed).content.decode()

    assert "<h1>" in body
    assert "Wire rest on 33." in body
    # Only the script takes teeth out of the order of the Tab key, for only it brings arrow keys.
    strip = body.partition("data-tooth-strip")[2].partition("</div>")[0]
    assert strip.count("<button") == 16
    assert "tabindex" not in strip


def test_teeth_are_entered_in_the_notation_of_the_lab(shop: Shop, sign_in: SignIn) -> None:
    shop.lab.notation = "universal"
    shop.lab.save()
    case = case_at(shop, "trim")
    client = sign_in("mara")
    typed = stands(client, case)
    assert typed["replaced"] == "31, 30, 19, 18"

    client.post(url("case-design", case), entries(**typed | {"clasps": "29"}))

    case.refresh_from_db()
    assert case.design is not None
    assert [clasp["tooth"] for clasp in case.design.data["clasps"]] == [45]


def test_design_is_drawn_on_the_tablet(shop: Shop, tablet: Client) -> None:
    case = case_at(shop, "trim")
    page = tablet.get(url("case-design", case))

    done = tablet.post(url("case-design", case), entries(**stands(tablet, case) | {"bar": "yes"}))

    assert 'class="bench"' in page.content.decode()
    assert done.status_code == 303


def test_tablet_goes_back_to_the_survey_in_hand(shop: Shop, tablet: Client) -> None:
    case = case_at(shop, "trim")
    survey = case.stages.get(key="survey")
    start_stage(shop.envelope("mara"), stage=survey.pk, version=survey.version)

    done = tablet.post(url("case-design", case), entries(**stands(tablet, case) | {"bar": "yes"}))

    assert done["Location"] == reverse("cases:bench-stage", args=[survey.pk])


def test_design_is_not_the_desks_to_draw(shop: Shop, sign_in: SignIn) -> None:
    assert sign_in("noor").get(url("case-design", case_at(shop))).status_code == 404


def test_hint_says_where_the_design_leaves_the_order(shop: Shop, sign_in: SignIn) -> None:
    case = case_at(shop, "trim")
    client = sign_in("mara")
    typed = stands(client, case) | {"replaced": "36, 46, 47", "gaps": "37"}

    body = client.post(url("case-design-preview", case), typed, headers=HX).content.decode()

    assert "The order names 36, 37, 46, 47 to replace, and the design differs." in body


def test_a_tooth_taken_out_and_not_replaced_is_kept_and_comes_back(
    shop: Shop, sign_in: SignIn
) -> None:
    case = case_at(shop, "trim")
    client = sign_in("mara")
    typed = stands(client, case) | {"out": "32", "extracted": ""}

    preview = client.post(url("case-design-preview", case), typed, headers=HX).content.decode()
    assert "32 to be extracted" in preview
    kept = client.post(url("case-design", case), entries(**typed, draft="1"))
    assert kept.status_code == 303
    data = case.designs.latest("version").data
    assert (data["extracted"], 32 in data["missing"], 32 in data["replaced"]) == ([32], True, False)

    page = client.get(url("case-design", case))
    form = page.context["form"]
    assert [form[name].value() for name in ("extracted", "out", "gaps")] == ["", "32", ""]
    assert page.context["marks"][32] == ["taken out, not replaced"]


def test_a_refused_page_draws_what_was_entered_as_far_as_it_can_be_read(
    shop: Shop, sign_in: SignIn
) -> None:
    case = case_at(shop, "survey")
    client = sign_in("mara")
    typed = stands(client, case) | {"rests": "43", "clasps": "34, 45, 14", "wire_34": "thick"}

    response = client.post(url("case-design", case), entries(**typed))

    assert response.status_code == 422
    plan = response.context["plan"]
    assert [clasp.tooth for clasp in plan.clasps] == [45, 34]
    assert plan.rests == {43}
    text = response.content.decode()
    assert "as far as the entries can be read" in text
    assert "14 is not a tooth of this arch." in text
    assert 'value="thick"' in text
    # What follows from the entries is told beside the drawing.
    assert response.context["kennedy"] == "I"
    assert response.context["in_question"]


def test_a_refusal_of_the_rules_keeps_the_new_drawing(shop: Shop, sign_in: SignIn) -> None:
    case = case_at(shop, "survey")
    client = sign_in("mara")
    typed = stands(client, case) | {"rests": "43", "bracing_45": "none", "reason": "So asked"}

    response = client.post(url("case-design", case), entries(**typed))

    assert response.status_code == 422
    assert response.context["plan"].rests == {43}
    assert any(row.finding.rule == "CLP-6" for row in response.context["rules"])


def test_a_slip_is_drawn_and_said_once(shop: Shop, sign_in: SignIn) -> None:
    case = case_at(shop, "trim")
    client = sign_in("mara")
    response = client.post(
        url("case-design", case), entries(**stands(client, case) | {"clasps": "46"})
    )
    assert [clasp.tooth for clasp in response.context["plan"].clasps] == [46]
    errors = response.context["form"].errors["clasps"]
    assert len(errors) == len(set(errors))


def test_the_slope_is_said_for_each_side_of_a_lower_alone(shop: Shop, sign_in: SignIn) -> None:
    case = case_at(shop, "trim")
    client = sign_in("mara")
    typed = stands(client, case) | {"on_slope": ["left"]}
    asked = client.post(url("case-design-preview", case), entries(**typed), headers=HX)

    client.post(url("case-design", case), entries(**typed))

    said = {row.finding.subject for row in asked.context["rules"] if row.finding.rule == "TTH-2"}
    assert said == {"37"}
    case.refresh_from_db()
    assert case.design is not None
    assert case.design.data["on_slope"] == ["left"]
    assert client.get(url("case-design", case)).context["form"]["on_slope"].value() == ["left"]
    gone = frozenset({16, 17})
    upper = Design("upper", missing=gone, replaced=gone)
    said_of = {"borders": "left-full", "polish": "none", "notation": "fdi"}
    assert "on_slope" not in DesignForm(None, plan=upper, **said_of).fields
