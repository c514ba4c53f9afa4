"""An old version of a design stays readable: who, why, what it said, what the next one changed."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.urls import reverse

from cases.documents.facts import House, case_facts
from cases.models import Case, Lab
from cases.services.answer import answer_question
from cases.services.check import enter_checks
from cases.services.design import set_design
from cases.services.stage import start_stage
from cases.services.verify_record import verify_record
from tests.factories import DESIGN, NOW, Shop, answers, clasped_in_front
from tests.views.case.conftest import SignIn, case_at, entries, url

pytestmark = pytest.mark.django_db


def test_each_version_tells_what_it_was_and_what_it_changed(shop: Shop, sign_in: SignIn) -> None:
    case = case_at(shop, "survey")
    passed = {"rule": "CLP-6", "subject": "35", "reason": "Worn only a short while"}
    bare = {**DESIGN["clasps"][0], "bracing": "none", "bracing_mm": None}
    set_design(
        shop.envelope("mara", now=NOW),
        case=case.pk,
        version=case.version,
        data={
            **DESIGN,
            "clasps": [bare, DESIGN["clasps"][1]],
            "abutments": [34],
            "concessions": [passed],
        },
        reason="The plate broke here before",
        asked_by="practice",
        standing={"survey": "The cast shows it"},
    )
    client = sign_in("noor")

    def page(version: int) -> str:
        return client.get(
            reverse("cases:case-design-version", args=[case.number, version])
        ).content.decode()

    old, new = page(2), page(3)
    assert "bilateral free end" in old
    assert "The plate broke here before" not in old
    assert "The plate broke here before" in new
    assert "Worn only a short while" in new
    stood = "“Survey and draw the design” was left standing: The cast shows it"
    assert stood in new
    assert stood not in old
    assert "Mara" in new
    whole = client.get(reverse("cases:case", args=[case.number])).content.decode()
    assert reverse("cases:case-design-version", args=[case.number, 2]) in whole
    assert "Worn only a short while" in whole
    assert stood in whole
    assert (
        client.get(reverse("cases:case-design-version", args=[case.number, 9])).status_code == 404
    )


def test_a_draft_is_told_apart_on_the_case_and_at_the_bench(shop: Shop, sign_in: SignIn) -> None:
    case = case_at(shop, "trim")
    set_design(
        shop.envelope("mara", now=NOW), case=case.pk, version=case.version, data=DESIGN, draft=True
    )
    client = sign_in("mara")
    for address in (
        reverse("cases:case", args=[case.number]),
        reverse("cases:bench-stage", args=[case.stages.get(key="survey").pk]),
    ):
        assert "draft" in client.get(address).content.decode()


def test_a_newer_draft_is_told_of_where_the_work_goes_on_by_an_older_version(
    shop: Shop, sign_in: SignIn
) -> None:
    case = case_at(shop, "survey")
    client = sign_in("mara")
    block_out = case.stages.get(key="block-out")
    addresses = (
        reverse("cases:case", args=[case.number]),
        reverse("cases:bench-stage", args=[block_out.pk]),
    )
    for address in addresses:
        assert "a newer draft" not in client.get(address).content.decode()
    set_design(
        shop.envelope("mara", now=NOW),
        case=case.pk,
        version=case.version,
        data={**DESIGN, "clasps": DESIGN["clasps"][:1], "bar": False},
        draft=True,
        reason="One arm broke",
        standing={"survey": "Surveyed for both"},
    )
    for address in addresses:
        page = client.get(address).content.decode()
        assert "a newer draft" in page
        assert "by version 2" in page
    third = client.get(reverse("cases:case-design-version", args=[case.number, 3]))
    assert "is a draft; the work goes on by version 2" in third.content.decode()
    # Who opens the design goes on drawing the draft, and sees what it changes.
    design = client.get(reverse("cases:case-design", args=[case.number])).content.decode()
    assert "A draft: finish the design." in design
    assert "No clasp on 45." in design
    assert "Why the design changes" in design
    assert "One arm broke" in design
    assert "Surveyed for both" in design


def test_a_concession_is_shown_as_it_was_said_on_page_and_paper(
    shop: Shop, sign_in: SignIn
) -> None:
    case = case_at(shop, "survey")
    passed = {"rule": "CLP-6", "subject": "35", "reason": "Worn only a short while"}
    bare = {**DESIGN["clasps"][0], "bracing": "none", "bracing_mm": None}
    below = {**bare, "bracing": "plate", "bracing_mm": -1.0}

    def draw(clasp: dict[str, object], *, draft: bool = False) -> None:
        case.refresh_from_db()
        set_design(
            shop.envelope("mara", now=NOW),
            case=case.pk,
            version=case.version,
            data={**DESIGN, "clasps": [clasp, DESIGN["clasps"][1]], "concessions": [passed]},
            reason="The plate broke here before",
            standing={"survey": "The cast shows it"},
            draft=draft,
        )
        case.refresh_from_db()

    said = "Nothing faces the clasp at 35 from the other side."
    client = sign_in("mara")
    draw(bare)
    page = client.get(reverse("cases:case", args=[case.number])).content.decode()
    papers = case_facts(case, House.of(Lab.objects.get())).concessions
    draw(below, draft=True)
    design = client.get(reverse("cases:case-design", args=[case.number])).content.decode()

    assert f"It was passed when the rule said: {said}" in design
    assert said in page
    (paper,) = papers
    assert paper.startswith(said)
    assert "Worn only" not in paper


def test_a_refused_change_says_so_on_case_and_bench_and_is_put_back_by_the_desk(
    shop: Shop, sign_in: SignIn
) -> None:
    case = case_at(shop, "block-out")
    asked = set_design(
        shop.envelope("mara", now=NOW),
        case=case.pk,
        version=case.version,
        data=clasped_in_front(),
        reason="Asked for",
        asked_by="practice",
        standing={"survey": "Seen", "block-out": "Nothing to add"},
    ).result["question"]
    desk, bench = sign_in("noor"), sign_in("mara")
    open_one = desk.get(url("case", case)).content.decode()
    assert url("question-answer", case, asked) in open_one
    assert url("question-withdraw", case, asked) not in open_one
    answer_question(shop.envelope("lind", now=NOW), question=asked, answer="keep")
    hold = case.holds.get(released_at=None)
    whole = desk.get(url("case", case)).content.decode()
    clasps = case.stages.get(key="clasps")
    stage = bench.get(reverse("cases:bench-stage", args=[clasps.pk])).content.decode()
    for shown in (whole, stage):
        assert "The practice refused the change of the design." in shown
    back = url("case-design-back", case, 2)
    assert back in whole
    assert url("hold-release", case, hold.pk) not in whole
    assert back in desk.get(url("answer-settle", case, asked)).content.decode()

    page = desk.get(back).content.decode()
    assert "Clasp on 45." in page
    # Survey and block-out were made by version 2: they are as true as they were.
    assert "is finished, and in question" not in page
    typed = entries(version=Case.objects.get(pk=case.pk).version)
    assert desk.post(back, {**typed, "reason": ""}).status_code == 422
    assert desk.post(back, {**typed, **entries(reason="Practice says no")}).status_code == 303

    case.refresh_from_db()
    assert case.design is not None
    assert (case.design.version, case.design.data["clasps"][1]["tooth"]) == (4, 45)
    assert case.design.reason == "Back to version 2: Practice says no"
    assert not case.holds.filter(released_at=None).exists()
    assert desk.get(url("case-design-back", case, 1)).status_code == 404
    assert back in desk.get(url("case-design-version", case, 2)).content.decode()
    assert "Put the design back" not in desk.get(url("case", case)).content.decode()
    assert verify_record() == []


def test_a_check_that_is_asked_again_says_against_which_version_it_passed(
    shop: Shop, sign_in: SignIn
) -> None:
    case = case_at(shop, "block-out")
    stage = case.stages.get(key="clasps")
    start_stage(shop.envelope("mara", now=NOW), stage=stage.pk, version=stage.version)
    stage.refresh_from_db()
    enter_checks(
        shop.envelope("mara", now=NOW), stage=stage.pk, version=stage.version,
        checks=answers(stage),
    )  # fmt: skip
    case.refresh_from_db()
    client = sign_in("mara")
    address = reverse("cases:bench-stage", args=[stage.pk])
    assert "It passed against design version" not in client.get(address).content.decode()
    set_design(
        shop.envelope("mara", now=NOW),
        case=case.pk,
        version=case.version,
        data={
            **DESIGN, "clasps": [{**DESIGN["clasps"][0], "free_arm_mm": 12.0}, DESIGN["clasps"][1]]
        },
        reason="Longer is softer",
    )  # fmt: skip
    page = client.get(address).content.decode()
    again = case.checks.filter(stage=stage, state="open").count()
    assert page.count("It passed against design version 2.") == again > 0
    second = client.get(reverse("cases:case-design-version", args=[case.number, 2]))
    assert f"{again} of them asked again by a later version" in second.content.decode()


def test_work_done_by_the_refused_design_is_decided_when_it_is_put_back(
    shop: Shop, sign_in: SignIn
) -> None:
    case = case_at(shop, "clasps")
    done = case.stages.get(key="clasps").ended_at
    other = {**DESIGN["clasps"][0], "wire_mm": 1.0}
    set_design(
        shop.envelope("mara", now=done - timedelta(minutes=1)),
        case=case.pk,
        version=case.version,
        data={**DESIGN, "clasps": [other, DESIGN["clasps"][1]]},
        reason="Stiffer",
        standing={"clasps": "They are bent from it"},
    )
    desk = sign_in("noor")
    back = url("case-design-back", case, 2)
    assert "“Bend clasps and wire rests” is finished, and in question" in (
        desk.get(back).content.decode()
    )
    typed = {"version": Case.objects.get(pk=case.pk).version, "reason": "Too stiff"}
    refused = desk.post(back, entries(**typed))
    assert refused.status_code == 422
    assert 'id="undecided-clasps"' in refused.content.decode()
    decided = {"becomes_clasps": "again", "why_clasps": ""}
    assert desk.post(back, entries(**typed, **decided)).status_code == 303
    assert case.stages.get(key="clasps").state == "planned"
