"""What the design page says while it is drawn, its steps back, its numbering, drafts, doubts."""

from __future__ import annotations

from typing import Any

import pytest
from django import forms
from django.test import Client
from django.urls import reverse

from cases.domain.clasp_findings import BELOW_LINE
from cases.domain.design_parts import said_mark
from cases.domain.design_review import RULES
from cases.forms.design.form import concede_name
from cases.models import Case
from cases.services.rule_limits import change_rule_limits
from tests.factories import Shop
from tests.views.case.conftest import SignIn, case_at, entries, url
from tests.views.case.test_design import HX, stands, untouched

pytestmark = pytest.mark.django_db

WHOLE = {**HX, "HX-Target": "design-form"}


def press(client: Client, case: Case, typed: dict[str, Any], **more: Any) -> Any:
    """Press something of the form that gives the whole form back."""
    return client.post(url("case-design-preview", case), entries(**typed, **more), headers=WHOLE)


def typed_by(response: Any) -> dict[str, Any]:
    """The entries of a page as a browser would send them again."""
    form = response.context["form"]
    sent = {}
    for field in form:
        value, widget = field.value(), field.field.widget
        if value in (None, "") and type(widget) is forms.Select:
            value = next((key for key, _words in widget.choices), "")  # as a browser shows it
        sent[field.html_name] = str(value) if value == 0 and value is not False else value
    sent |= {"trail": response.context["trail"].write(), "notation": response.context["notation"]}
    sent["version"] = response.context["version"]
    return {name: value for name, value in sent.items() if value not in (None, False, "", [])}


def test_class_and_rules_are_said_while_drawing(shop: Shop, sign_in: SignIn) -> None:
    case = case_at(shop, "trim")
    client = sign_in("mara")
    typed = untouched(client, case) | {"replaced": "36, 37, 46, 47", "clasps": "35, 45"}
    body = client.post(url("case-design-preview", case), entries(**typed), headers=HX)
    text = body.content.decode()
    assert "Kennedy class I" in text
    assert "bilateral free end" in text
    assert "PATH-5" in text
    mark = said_mark(RULES["CLP-6"].words, {"tooth": 35})
    assert f'name="concede:CLP-6:35:{mark}"' in text


def test_what_was_conceded_for_other_facts_is_asked_anew_with_both_shown(
    shop: Shop, sign_in: SignIn
) -> None:
    case = case_at(shop, "survey")
    client = sign_in("mara")

    def named(below: float) -> str:
        return concede_name("CLP-6", "35", said_mark(BELOW_LINE, {"tooth": 35, "below": below}))

    low = stands(client, case) | {"bracing_35": "plate", "height_35": "-0.3", "reason": "No room"}
    low[named(0.3)] = "Worn a short while"
    assert client.post(url("case-design", case), entries(**low)).status_code == 303
    case.refresh_from_db()

    # Sent by a page without scripts, the old reason stands below the old sentence.
    lower = low | {"height_35": "-0.8", "version": case.version}
    refused = client.post(url("case-design", case), entries(**lower))
    assert refused.status_code == 422
    (row,) = [row for row in refused.context["rules"] if row.concede == named(0.8)]
    assert (row.finding.passed, row.reason, row.because) == (False, "", "Worn a short while")
    assert "0.3 mm below" in row.said_then
    assert "0.8 mm below" in row.sentence
    text = refused.content.decode()
    assert row.said_then in text
    assert "It does not cover what the rule says now" in text

    lower |= {named(0.8): "Worn a short while"}
    assert client.post(url("case-design", case), entries(**lower)).status_code == 303


def test_a_clasp_is_reckoned_once_wire_arm_and_depth_are_said(shop: Shop, sign_in: SignIn) -> None:
    case = case_at(shop, "trim")
    client = sign_in("mara")
    typed = stands(client, case) | {
        "wire_45": "",
        "clasps": "35, 45", "wire_35": "1,0", "undercut_35": "0.5", "arm_35": "8",
        "step_35_buccal": "0.5",
    }  # fmt: skip
    response = client.post(url("case-design-preview", case), entries(**typed), headers=HX)
    wires = response.context["wires"]
    assert list(wires) == [35]
    assert wires[35].forecast.stays == "will"
    assert "indicative" in response.content.decode().lower()


def test_an_arm_that_nobody_measured_gives_a_provisional_forecast(
    shop: Shop, sign_in: SignIn
) -> None:
    case = case_at(shop, "trim")
    client = sign_in("mara")
    typed = stands(client, case) | {"clasps": "35, 45", "arm_35": ""}

    response = client.post(url("case-design-preview", case), entries(**typed), headers=HX)

    wires, body = response.context["wires"], response.content.decode()
    assert {tooth: wires[tooth].forecast.provisional for tooth in wires} == {45: False, 35: True}
    assert wires[35].forecast.arm_mm == 9.5
    assert "nobody has measured the free arm, so the usual one of 9.5 mm was taken." in body
    assert "Provisional: not every free arm is measured." in body
    # It is shown, and no rule judges by it: the clasp is not finished with it.
    stiff = typed | {"wire_35": "1.3", "undercut_35": "0.75", "step_35_buccal": "0.75"}
    judged = client.post(url("case-design-preview", case), entries(**stiff), headers=HX)
    rules = [row.finding.rule for row in judged.context["rules"] if row.finding.subject == "35"]
    assert judged.context["wires"][35].forecast.stays == "will"
    assert "CLP-14" in rules
    assert "CLP-2" not in rules


def test_a_tapered_arm_is_entered_judged_kept_and_read_back(shop: Shop, sign_in: SignIn) -> None:
    case = case_at(shop, "trim")
    client = sign_in("mara")
    typed = stands(client, case) | {"thin_35": "0,45"}

    shown = client.post(url("case-design-preview", case), entries(**typed), headers=HX)
    wires = shown.context["wires"]
    client.post(url("case-design", case), entries(**typed))
    case.refresh_from_db()

    assert wires[35].forecast.tip_share == 0.5
    assert wires[35].forecast.force_n.high == pytest.approx(wires[45].forecast.force_n.high / 2)
    assert ("Tapered to", "0.45 mm") in wires[35].figures
    assert case.design is not None
    assert [one["tip_wire_mm"] for one in case.design.data["clasps"]] == [None, 0.45]
    assert client.get(url("case-design", case)).context["form"]["thin_35"].value() == "0.45"
    version = client.get(reverse("cases:case-design-version", args=[case.number, 2]))
    assert "0.9 mm, tapered to 0.45 mm" in version.content.decode()


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ({"thin_35": "1"}, "no taper"),
        ({"thin_35": "0.5", "section_35": "half_round"}, "half-round"),
    ],
)
def test_a_taper_that_is_none_is_refused_beside_its_entry(
    shop: Shop, sign_in: SignIn, typed: dict[str, str], says: str
) -> None:
    case = case_at(shop, "trim")
    client = sign_in("mara")

    refused = client.post(
        url("case-design", case), entries(**stands(client, case) | typed, draft="1")
    )

    assert refused.status_code == 422
    assert says in str(refused.context["form"].errors["thin_35"])


def test_taper_and_relief_left_out_are_entered_conceded_and_read_back(
    shop: Shop, sign_in: SignIn
) -> None:
    case = case_at(shop, "trim")
    client = sign_in("mara")
    typed = stands(client, case) | {"taper_deg": "3", "unrelieved": "35 distal"}

    refused = client.post(url("case-design", case), entries(**typed))
    (row,) = [one for one in refused.context["rules"] if one.finding.subject == "35 distal"]
    kept = client.post(url("case-design", case), entries(**typed, **{row.concede: "Flat gum"}))

    assert (refused.status_code, kept.status_code) == (422, 303)
    assert row.finding.rule == "BLK-0"
    case.refresh_from_db()
    assert case.design is not None
    assert (case.design.data["taper_deg"], case.design.data["unrelieved"]) == (
        3.0, [[35, "distal"]],
    )  # fmt: skip
    form = client.get(url("case-design", case)).context["form"]
    assert (form["taper_deg"].value(), form["unrelieved"].value()) == ("3", "35 distal")
    # Where it is left out by a concession, nobody is asked to measure it.
    asked = case.checks.filter(number=16).exclude(state="dropped")
    assert {item.subject for item in asked} == {"45 distal"}


@pytest.mark.parametrize(("written", "system", "mm"), [("19", "awg", 0.9116), ("19", "swg", 1.016)])
def test_a_gauge_keeps_its_table(
    shop: Shop, sign_in: SignIn, written: str, system: str, mm: float
) -> None:
    case = case_at(shop, "trim")
    client = sign_in("mara")
    typed = stands(client, case) | {"wire_35": written, "system_35": system, "draft": "1"}
    client.post(url("case-design", case), entries(**typed))
    case.refresh_from_db()
    assert case.design is not None
    clasp = next(one for one in case.design.data["clasps"] if one["tooth"] == 35)
    assert (clasp["gauge"], clasp["gauge_system"]) == ("19", system)
    assert clasp["wire_mm"] == pytest.approx(mm, abs=1e-3)


@pytest.mark.parametrize("system", ["mm", "unknown"])
def test_a_gauge_without_its_table_is_asked_for_beside_the_wire(
    shop: Shop, sign_in: SignIn, system: str
) -> None:
    case = case_at(shop, "trim")
    client = sign_in("mara")
    typed = stands(client, case) | {"wire_35": "18", "system_35": system}
    response = client.post(url("case-design", case), entries(**typed))
    assert response.status_code == 422
    (error,) = response.context["form"].errors["wire_35"]
    assert "1.02" in error
    assert "1.22" in error


def test_steps_are_taken_back_and_forth(shop: Shop, sign_in: SignIn) -> None:
    case = case_at(shop, "trim")
    client = sign_in("mara")
    start = untouched(client, case) | {"tool": "stops"}
    first = press(client, case, start, touch="33")
    assert first.context["said"] == "An acrylic stop on 33."
    second = press(client, case, typed_by(first) | {"tool": "stops"}, touch="43")
    assert second.context["form"]["stops"].value() == "43, 33"
    back = press(client, case, typed_by(second), step="back")
    assert back.context["form"]["stops"].value() == "33"
    forth = press(client, case, typed_by(back), step="forth")
    assert forth.context["form"]["stops"].value() == "43, 33"
    end = press(client, case, typed_by(forth), step="forth")
    assert end.context["said"] == "There is no step to take."


def test_steps_with_clasps_are_taken_back_and_forth(shop: Shop, sign_in: SignIn) -> None:
    """A new clasp brings entries with it that a browser sends filled."""
    case = case_at(shop, "trim")
    client = sign_in("mara")
    page = client.get(url("case-design", case))
    were = page.context["form"]["clasps"].value()
    start = press(client, case, typed_by(page) | {"tool": "clasps"}, touch="33")
    second = press(client, case, typed_by(start) | {"tool": "clasps"}, touch="43")
    one, two = (answer.context["form"]["clasps"].value() for answer in (start, second))

    back = press(client, case, typed_by(second), step="back")
    first = press(client, case, typed_by(back), step="back")
    none = press(client, case, typed_by(first), step="back")
    forth = press(client, case, typed_by(first), step="forth")
    again = press(client, case, typed_by(forth), step="forth")

    assert back.context["form"]["clasps"].value() == one
    assert first.context["form"]["clasps"].value() == were
    assert none.context["said"] == "There is no step to take."
    assert forth.context["form"]["clasps"].value() == one
    assert again.context["form"]["clasps"].value() == two


def test_the_reader_chooses_the_numbering_and_fdi_is_stored(shop: Shop, sign_in: SignIn) -> None:
    case = case_at(shop, "trim")
    client = sign_in("mara")
    typed = stands(client, case) | {"clasps": "35, 45"}
    response = press(client, case, typed, show_in="universal", notation="fdi")
    assert response.context["form"]["clasps"].value() == "29, 20"
    client.post(url("case-design", case), entries(**typed_by(response), draft="1"))
    case.refresh_from_db()
    assert case.design is not None
    assert [clasp["tooth"] for clasp in case.design.data["clasps"]] == [45, 35]
    # The next page opens in it, and a form written in the other is still read as such.
    assert client.get(url("case-design", case)).context["notation"] == "universal"


def test_faces_and_ridges_are_surveyed_by_a_touch(shop: Shop, sign_in: SignIn) -> None:
    case = case_at(shop, "trim")
    client = sign_in("mara")
    start = untouched(client, case) | {"tool": "survey-buccal"}

    tooth = press(client, case, start, touch="43")
    ridge = press(client, case, typed_by(tooth), touch="46")
    wall = press(client, case, typed_by(ridge) | {"tool": "survey-distal"}, touch="45")

    assert "43 buccal is surveyed: choose in the survey" in tooth.content.decode()
    assert "The ridge at 46, buccal, is surveyed" in ridge.content.decode()
    assert "45 distal stands in the survey anyway" in wall.content.decode()
    form = wall.context["form"]
    assert form["more_faces"].value() == "46 buccal, 43 buccal"
    assert {"step_43_buccal", "step_46_buccal"} <= form.fields.keys()
    # What was entered there comes back with a step.
    filled = typed_by(wall) | {"step_46_buccal": "0.5", "tool": "survey-buccal"}
    out = press(client, case, filled, touch="46")
    assert "step_46_buccal" not in out.context["form"].fields
    back = press(client, case, typed_by(out), step="back")
    assert back.context["form"]["step_46_buccal"].value() == "0.5"


def test_steps_survive_another_numbering(shop: Shop, sign_in: SignIn) -> None:
    case = case_at(shop, "trim")
    client = sign_in("mara")
    first = press(client, case, untouched(client, case) | {"clasps": "35", "tool": "clasps"})
    second = press(client, case, typed_by(first), touch="34")
    third = press(client, case, typed_by(second), touch="33")
    back = press(client, case, typed_by(third), step="back")
    assert back.context["form"]["clasps"].value() == "34, 35"

    shown = press(client, case, typed_by(back), show_in="universal")
    forth = press(client, case, typed_by(shown), step="forth")
    once = press(client, case, typed_by(forth), step="back")
    twice = press(client, case, typed_by(once), step="back")

    clasps = [one.context["form"]["clasps"].value() for one in (shown, forth, once, twice)]
    assert clasps == ["21, 20", "22, 21, 20", "21, 20", "20"]
    # Without scripts and in FDI again, the steps are still there.
    again = press(client, case, typed_by(twice), show_in="fdi")
    last = press(client, case, typed_by(again), step="forth")
    assert last.context["form"]["clasps"].value() == "34, 35"


def test_a_draft_is_kept_and_told_apart(shop: Shop, sign_in: SignIn) -> None:
    case = case_at(shop, "trim")
    client = sign_in("mara")
    response = client.post(
        url("case-design", case), entries(**stands(client, case) | {"stops": "33"}, draft="1")
    )
    assert response.status_code == 303
    case.refresh_from_db()
    assert case.design is not None
    assert case.design.data["draft"] is True
    page = client.get(url("case-design", case)).content.decode()
    assert "A draft: finish the design." in page


def test_a_change_shows_what_it_puts_in_question_and_takes_the_decision(
    shop: Shop, sign_in: SignIn
) -> None:
    case = case_at(shop, "clasps")
    client = sign_in("mara")
    typed = stands(client, case) | {"wire_35": "1.0", "reason": "Softer wire not in the drawer"}
    shown = client.post(url("case-design-preview", case), entries(**typed), headers=HX)
    assert [row["stage"].key for row in shown.context["in_question"]] == ["clasps"]
    refused = client.post(url("case-design", case), entries(**typed))
    assert refused.status_code == 422
    said = refused.content.decode()
    assert "Choose whether it is done again, or left standing and why." in said
    assert said.count('aria-describedby="undecided-clasps"') == 3
    assert 'id="undecided-clasps"' in said
    assert 'href="#becomes-clasps-again"' in said
    assert "undecided-clasps" not in shown.content.decode()
    halfway = client.post(url("case-design", case), entries(**typed, becomes_clasps="stands"))
    assert "Write why it may stand." in halfway.content.decode()
    assert 'href="#why-clasps"' in halfway.content.decode()
    done = client.post(url("case-design", case), entries(**typed, becomes_clasps="again"))
    assert done.status_code == 303
    clasps = case.stages.get(key="clasps")
    assert (clasps.state, clasps.attempt) == ("planned", 2)


def test_what_was_surveyed_comes_back(shop: Shop, sign_in: SignIn) -> None:
    case = case_at(shop, "trim")
    client = sign_in("mara")
    typed = stands(client, case) | {
        "marked": "on", "step_35_distal": "0.25", "flat_35_distal": "0", "more_faces": "43 lingual",
        "line_35": "3.5", "bracing_35": "plate", "height_35": "1.2",
        "clasps": "35", "replaced": "36, 37, 46, 47",
    }  # fmt: skip
    client.post(url("case-design", case), entries(**typed, draft="1"))
    case.refresh_from_db()
    assert case.design is not None
    survey = case.design.data["survey"]
    assert (survey["marked"], survey["tilt_deg"]) == (True, 0.0)
    assert survey["undercuts"] == [
        {"tooth": 45, "side": "distal", "step_mm": 0.25, "level_mm": None},
        {"tooth": 43, "side": "lingual", "step_mm": 0.0, "level_mm": None},
        {"tooth": 35, "side": "distal", "step_mm": 0.25, "level_mm": 0.0},
        {"tooth": 35, "side": "buccal", "step_mm": 0.25, "level_mm": None},
        {"tooth": 35, "side": "lingual", "step_mm": 0.0, "level_mm": None},
    ]
    form = client.get(url("case-design", case)).context["form"]
    assert form["step_35_distal"].value() == "0.25"
    assert (form["bracing_35"].value(), form["height_35"].value()) == ("plate", "1.2")


def test_what_each_decision_adds_is_told_apart(shop: Shop, sign_in: SignIn) -> None:
    case = case_at(shop, "trim")
    client = sign_in("mara")
    typed = untouched(client, case) | {"bar": "yes", "method": "wax-then-copy"}
    shown = client.post(url("case-design-preview", case), entries(**typed), headers=HX)
    said = shown.context["each_adds"]
    bar = next(one for one in said if one.startswith("The bar: "))
    assert "adds “Shape the bar” (18 min)" in bar
    assert "Pour and pass the copy" not in bar
    method = next(one for one in said if one.startswith("How it is blocked out: "))
    assert "Pour and pass the copy" in method


def test_what_was_told_is_entered_kept_and_heard_by_the_rules(shop: Shop, sign_in: SignIn) -> None:
    case = case_at(shop, "trim")
    client = sign_in("mara")
    typed = stands(client, case) | {
        "told": ["later-piece", "heavy-bite"], "drawing": "no-drawing", "method_reason": "no-time",
    }  # fmt: skip
    shown = client.post(url("case-design-preview", case), entries(**typed), headers=HX)
    assert "a later piece will be made on it" in shown.content.decode()

    client.post(url("case-design", case), entries(**typed))

    case.refresh_from_db()
    assert case.design is not None
    assert case.design.data["told"] == ["heavy-bite", "later-piece", "no-drawing"]
    form = client.get(url("case-design", case)).context["form"]
    assert form["told"].value() == ["heavy-bite", "later-piece"]
    assert form["drawing"].value() == "no-drawing"


def test_the_rules_speak_by_the_limits_of_the_lab(shop: Shop, sign_in: SignIn) -> None:
    case = case_at(shop, "trim")
    client = sign_in("mara")
    typed = stands(client, case) | {"tilt_to": "front", "tilt_deg": "7"}

    def speaks() -> bool:
        shown = client.post(url("case-design-preview", case), entries(**typed), headers=HX)
        return "PATH-1" in {row.finding.rule for row in shown.context["rules"]}

    assert not speaks()
    change_rule_limits(shop.envelope("pavo"), values={"PATH-1": {"tilt": 5.0}})
    assert speaks()


def test_what_the_house_knows_is_shown_and_not_asked(shop: Shop, sign_in: SignIn) -> None:
    case = case_at(shop, "trim")
    Case.objects.update(remake_reason="broken-in-mouth")

    text = sign_in("mara").get(url("case-design", case)).content.decode()

    assert "It is remade because it broke in the mouth." in text


def test_the_page_of_a_drawn_design_says_what_each_decision_has_added(
    shop: Shop, sign_in: SignIn
) -> None:
    case = case_at(shop, "survey")
    page = sign_in("mara").get(url("case-design", case))
    told = {line.split(":")[0]: line for line in page.context["each_adds"]}
    assert "“Bend clasps and wire rests”" in told["Teeth with a clasp"]
    assert "“Choose and set teeth”" in told["Teeth replaced"]
    assert "What each decision adds" in page.content.decode()


def test_a_rule_that_leads_to_a_question_leads_to_its_page_with_the_tooth(
    shop: Shop, sign_in: SignIn
) -> None:
    case = case_at(shop, "trim")
    client = sign_in("mara")
    typed = stands(client, case) | {"shows_35": "on"}
    rows = press(client, case, typed).context["rules"]
    (row,) = [row for row in rows if row.finding.question == 10]
    address = url("case-ask", case, 10) + row.ask_about
    assert address in press(client, case, typed).content.decode()

    client.post(reverse("cases:account"), {"numbering": "palmer"})
    assert client.get(address).context["form"]["tooth"].value() == "LL5"
    assert (
        client.get(url("case-ask", case, 10) + "?tooth=99").context["form"]["tooth"].value() is None
    )
    assert all(row.ask_about == "" for row in rows if row.finding.question is None)


@pytest.mark.parametrize(
    ("notation", "milk", "lost", "own"),
    [("fdi", "75", "85", "33"), ("universal", "K", "T", "22"), ("palmer", "LLe", "LRe", "LL3")],
)
def test_a_mouth_with_milk_teeth_is_drawn_in_every_numbering(
    shop: Shop, sign_in: SignIn, notation: str, milk: str, lost: str, own: str
) -> None:
    case = case_at(shop, "trim")
    client = sign_in("mara")
    client.post(reverse("cases:account"), {"numbering": notation})
    none = ("replaced", "gaps", "clasps", "rests", "stops", "blocked")
    empty = {name: said for name, said in untouched(client, case).items() if name not in none}
    typed = {
        **empty, "primary": milk, "replaced": lost, "clasps": milk, "blocked": f"{milk} distal",
        "method": "plaster", "rests": own, "notation": notation,
    }  # fmt: skip

    kept = client.post(url("case-design", case), entries(**typed, draft="1"))
    assert (kept.status_code, case.designs.count()) == (303, 2)
    case.refresh_from_db()
    assert case.design is not None
    data = case.design.data
    assert (data["primary"], data["replaced"]) == ([35], [45])
    assert ([one["tooth"] for one in data["clasps"]], data["blocked"]) == ([35], [[35, "distal"]])

    # The page says milk teeth by their own numbers: in entries, strip, drawing and rules.
    page = client.get(url("case-design", case))
    form = page.context["form"]
    assert [form[name].value() for name in ("primary", "clasps", "blocked")] == [
        milk, milk, f"{milk} distal",
    ]  # fmt: skip
    assert (35, milk) in page.context["row"]
    (braced,) = [row for row in page.context["rules"] if row.finding.rule == "CLP-6"]
    assert f"the clasp at {milk} from the other side" in braced.sentence
    body = page.content.decode()
    assert f"milk tooth {milk}, clasp on {milk}" in body

    unmarked = {**typed, "primary": "", "version": page.context["version"]}
    refused = client.post(url("case-design", case), entries(**unmarked, draft="1"))
    errors = refused.context["form"].errors
    for name in ("clasps", "blocked"):
        assert errors[name][0].startswith(f"{milk} is a milk tooth, and none is entered")


def test_the_strip_says_all_that_stands_at_a_tooth_and_shows_the_first(
    shop: Shop, sign_in: SignIn
) -> None:
    case = case_at(shop, "trim")
    client = sign_in("mara")
    drawn = {"rests": "35", "joint_teeth": "35", "blocked": "35 lingual", "method": "plaster"}
    page = press(client, case, stands(client, case) | drawn)
    assert page.context["marks"][35] == ["clasp", "rest", "joint", "blocked out tongue side"]
    assert page.context["marks"][36] == ["replaced"]
    said = '<span class="visually-hidden">, rest, joint, blocked out tongue side</span>'
    assert f'<span class="tooth-mark">clasp</span>{said}' in page.content.decode()
