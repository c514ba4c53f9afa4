"""Drawing the design, and changing it while the work goes on."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from cases.domain.clasp_findings import BELOW_LINE, NOTHING_FACES
from cases.domain.design_parts import said_mark
from cases.models import Case, CheckResult, Design, Event, SendBack
from cases.selectors.bench_stage import stage_view
from cases.selectors.design_versions import version_of, versions
from cases.services.check import enter_checks
from cases.services.design import set_design
from cases.services.record import Refusal
from cases.services.rule_limits import change_rule_limits
from cases.services.stage import start_stage
from cases.services.verify_record import verify_record
from tests.factories import DESIGN, NOW, Shop, answers, make_case, make_shop
from tests.walk import Clock, do_stage, draw, next_stage, photograph

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    return make_shop()


def walked(shop: Shop, last: str) -> tuple[Case, Clock]:
    """A case whose stages are done up to and with ``last``."""
    case = make_case(shop)
    clock = Clock(NOW)
    while True:
        stage = next_stage(case)
        assert stage is not None, last
        do_stage(shop, stage, clock)
        if stage.key == last:
            case.refresh_from_db()
            return case, clock


def change(shop: Shop, case: Case, clock: Clock, data: dict[str, Any], **how: Any) -> Any:
    case.refresh_from_db()
    return set_design(
        shop.envelope("mara", now=clock.now),
        case=case.pk,
        version=case.version,
        data=data,
        **{"reason": "Practice asked for it", **how},
    )


def newest(case: Case) -> Design:
    row = case.designs.order_by("-version").first()
    assert row is not None
    return row


OTHER_WIRE = {
    **DESIGN,
    "clasps": [{**DESIGN["clasps"][0], "wire_mm": 1.0}, DESIGN["clasps"][1]],
}
ONE_TOOTH_LESS = {**DESIGN, "missing": [36, 37, 46, 47], "replaced": [36, 37, 46]}


def test_a_draft_is_kept_and_seen_but_the_survey_does_not_end_with_it(shop: Shop) -> None:
    case, clock = walked(shop, "trim")
    survey = case.stages.get(key="survey")
    with pytest.raises(Refusal, match="draft") as refused:
        draft_then_finish(shop, case, clock)
    assert refused.value.code == "design-draft"
    assert Design.objects.get(case=case, version=2).data["draft"] is True
    draw(shop, case, clock)  # finishing a draft needs no reason
    case.refresh_from_db()
    assert case.design.data["draft"] is False
    survey.refresh_from_db()
    assert survey.state == "running"


def draft_then_finish(shop: Shop, case: Case, clock: Clock) -> None:
    from cases.services.stage import finish_stage, start_stage
    from tests.factories import answers

    stage = case.stages.get(key="survey")
    clock.now = max(clock.now, stage.ready_at)
    start_stage(shop.envelope("mara", now=clock.now), stage=stage.pk, version=stage.version)
    change(shop, case, clock, DESIGN, draft=True)
    stage.refresh_from_db()
    finish_stage(
        shop.envelope("mara", now=clock.now),
        stage=stage.pk,
        version=stage.version,
        checks=answers(stage),
        things_used={},
    )


def test_a_change_asks_what_becomes_of_each_finished_stage_it_questions(shop: Shop) -> None:
    case, clock = walked(shop, "clasps")
    with pytest.raises(Refusal, match=r"puts “.*” in question") as refused:
        change(shop, case, clock, OTHER_WIRE)
    assert refused.value.field == "again"
    assert case.stages.get(key="clasps").state == "done"
    assert case.designs.count() == 2


def test_a_stage_in_question_is_done_again_and_the_rest_stands(shop: Shop) -> None:
    case, clock = walked(shop, "clasps")
    change(shop, case, clock, OTHER_WIRE, again=["clasps"])
    clasps = case.stages.get(key="clasps")
    assert (clasps.state, clasps.attempt) == ("planned", 2)
    assert case.stages.get(key="survey").state == "done"
    back = SendBack.objects.get(case=case)
    assert (back.to_stage, back.reopened) == ("clasps", ["clasps"])
    assert verify_record() == []


def test_a_stage_in_question_may_be_left_standing_with_a_reason(shop: Shop) -> None:
    case, clock = walked(shop, "clasps")
    why = {"clasps": "Bent from 1.0 mm already"}
    change(shop, case, clock, OTHER_WIRE, standing={**why, "trim": "Not in question"})
    assert case.stages.get(key="clasps").state == "done"
    assert SendBack.objects.count() == 0
    # Why is kept with the version, whether or not another stage is done again.
    assert newest(case).standing == why
    event = Event.objects.filter(case=case, kind="design.set").latest("pk")
    assert event.facts["standing"] == ["clasps"]
    assert verify_record() == []


def test_going_back_to_what_a_stage_was_made_by_does_not_question_it(shop: Shop) -> None:
    case, clock = walked(shop, "clasps")
    clock.now += timedelta(minutes=1)
    change(shop, case, clock, OTHER_WIRE, standing={"clasps": "Bent from 1.0 mm already"})
    clock.now += timedelta(minutes=1)
    thinner = [{**DESIGN["clasps"][0], "wire_mm": 0.8}, DESIGN["clasps"][1]]
    with pytest.raises(Refusal) as refused:
        change(shop, case, clock, {**DESIGN, "clasps": thinner})
    assert refused.value.code == "in-question"
    change(shop, case, clock, DESIGN)
    assert newest(case).standing == {}


def test_a_change_that_questions_nothing_needs_no_decision(shop: Shop) -> None:
    case, clock = walked(shop, "survey")
    change(shop, case, clock, {**DESIGN, "hollowed": [36]})
    case.refresh_from_db()
    assert case.design.data["hollowed"] == [36]


@pytest.mark.parametrize(("who", "number"), [("practice", 25), ("lab", 9)])
def test_what_alters_the_order_waits_for_the_practice_and_the_rest_goes_on(
    shop: Shop, who: str, number: int
) -> None:
    case, clock = walked(shop, "block-out")
    decided = {"survey": "The cast shows it", "block-out": "Nothing more to block out"}
    result = change(shop, case, clock, ONE_TOOTH_LESS, asked_by=who, standing=decided).result
    question = case.questions.get(pk=result["question"])
    assert question.number == number
    assert "Fewer teeth are replaced: 47" in question.words
    hold = case.holds.get(question=question)
    waiting = case.stages.filter(key__in=hold.stages, state="planned")
    assert waiting.count() >= 1
    assert case.stages.filter(state="planned").exclude(key__in=hold.stages).exists()
    assert verify_record() == []


def test_a_wire_is_for_the_bench_to_decide(shop: Shop) -> None:
    case, clock = walked(shop, "survey")
    assert change(shop, case, clock, OTHER_WIRE).result["question"] is None
    assert not case.questions.filter(number__in=(9, 25)).exists()


def test_who_wished_the_change_is_one_of_two(shop: Shop) -> None:
    case, clock = walked(shop, "survey")
    with pytest.raises(Refusal) as refused:
        change(shop, case, clock, OTHER_WIRE, asked_by="somebody")
    assert refused.value.field == "asked_by"


NO_BRACING = {
    **DESIGN,
    "clasps": [{**DESIGN["clasps"][0], "bracing": "none", "bracing_mm": None}, DESIGN["clasps"][1]],
}
PASSED = {"rule": "CLP-6", "subject": "35", "reason": "Worn only a short while"}


def test_a_clasp_that_nothing_faces_is_finished_only_by_a_concession_with_a_name(
    shop: Shop,
) -> None:
    case, clock = walked(shop, "survey")
    with pytest.raises(Refusal, match="35") as refused:
        change(shop, case, clock, NO_BRACING)
    assert (refused.value.code, refused.value.field) == ("rules", "design")
    change(shop, case, clock, {**NO_BRACING, "concessions": [PASSED]})
    case.refresh_from_db()
    assert case.design is not None
    (given,) = case.design.data["concessions"]
    kept = {"words": NOTHING_FACES, "facts": [["tooth", 35]], "seen": ""}
    assert given == {**PASSED, "by": shop.people["mara"].pk, **kept}


def test_a_concession_keeps_what_its_rule_said_when_it_was_given(shop: Shop) -> None:
    case, clock = walked(shop, "survey")
    forged = {**PASSED, "words": "All is well.", "facts": []}
    change(shop, case, clock, {**NO_BRACING, "concessions": [forged]})
    change(shop, case, clock, {**NO_BRACING, "hollowed": [36], "concessions": [forged]})

    (one,) = versions(case).conceded
    assert len(one.versions) == 2
    assert one.sentence(lambda tooth: f"#{tooth}").startswith(
        "Nothing faces the clasp at #35 from the other side."
    )
    found = version_of(case, one.versions[-1])
    assert found is not None
    assert found.conceded[0].sentence(str) == one.sentence(str)


def low(mm: float, *concessions: dict[str, Any]) -> dict[str, Any]:
    """The design with bracing so far below the line behind 35."""
    clasp = {**DESIGN["clasps"][0], "bracing": "plate", "bracing_mm": -mm}
    return {**DESIGN, "clasps": [clasp, DESIGN["clasps"][1]], "concessions": list(concessions)}


def test_a_concession_is_asked_anew_where_the_facts_are_others(shop: Shop) -> None:
    case, clock = walked(shop, "survey")
    change(shop, case, clock, low(0.3, PASSED))
    # The same again is covered; lower is not.
    change(shop, case, clock, {**low(0.3, PASSED), "hollowed": [36]})
    for worse in (low(0.8, PASSED), {**NO_BRACING, "concessions": [PASSED]}):
        with pytest.raises(Refusal, match="35") as refused:
            change(shop, case, clock, worse)
        assert refused.value.code == "rules"

    change(shop, case, clock, low(0.8, {**PASSED, "reason": "Seen again"}))
    said = [one.sentence(str) for one in versions(case).conceded]
    assert ["0.3 mm below" in said[0], "0.8 mm below" in said[1]] == [True, True]


def test_a_concession_passes_only_the_sentence_that_stood_above_it(shop: Shop) -> None:
    case, clock = walked(shop, "survey")
    mark = said_mark(BELOW_LINE, {"tooth": 35, "below": 0.3})
    seen = {**PASSED, "seen": mark}
    with pytest.raises(Refusal):
        change(shop, case, clock, low(0.8, seen))
    change(shop, case, clock, low(0.3, seen))
    # The same reason below the new sentence is a new giving; below the old one it is the old.
    with pytest.raises(Refusal):
        change(shop, case, clock, low(0.8, seen))
    anew = {**PASSED, "seen": said_mark(BELOW_LINE, {"tooth": 35, "below": 0.8})}
    change(shop, case, clock, low(0.8, anew))


def test_a_concession_to_a_rule_that_does_not_speak_is_none(shop: Shop) -> None:
    case, clock = walked(shop, "survey")

    def kept() -> list[Any]:
        return list(newest(case).data["concessions"])

    change(shop, case, clock, {**OTHER_WIRE, "concessions": [PASSED]})
    assert kept() == []
    # What is mended in a finished design is no longer said of it; a draft keeps it until then.
    change(shop, case, clock, low(0.3, PASSED))
    change(shop, case, clock, {**DESIGN, "concessions": [PASSED]}, draft=True)
    assert len(kept()) == 1
    change(shop, case, clock, {**DESIGN, "concessions": [PASSED]})
    assert kept() == []


def test_a_concession_of_a_draft_keeps_the_sentence_as_well(shop: Shop) -> None:
    case, clock = walked(shop, "survey")
    change(shop, case, clock, {**NO_BRACING, "concessions": [PASSED]}, draft=True)
    assert newest(case).data["concessions"][0]["words"] == NOTHING_FACES


def test_who_gave_a_concession_keeps_it_when_another_changes_the_design(shop: Shop) -> None:
    case, clock = walked(shop, "survey")
    change(shop, case, clock, {**NO_BRACING, "concessions": [PASSED]})
    case.refresh_from_db()
    set_design(
        shop.envelope("oren", now=clock.now),
        case=case.pk,
        version=case.version,
        data={**NO_BRACING, "hollowed": [36], "concessions": [PASSED]},
        reason="Wire comes through",
    )
    case.refresh_from_db()
    assert case.design is not None
    assert case.design.data["concessions"][0]["by"] == shop.people["mara"].pk


def test_a_cast_without_its_tilt_is_kept_as_a_draft_and_never_finished(shop: Shop) -> None:
    case, clock = walked(shop, "survey")
    level = {**DESIGN, "survey": {"tilt_deg": None, "tilt_to": "", "marked": False}}
    with pytest.raises(Refusal, match="tilt"):
        change(shop, case, clock, level)
    # The tilt is what the survey was made by; what becomes of that is asked at the end alone.
    change(shop, case, clock, level, draft=True, reason="")
    assert newest(case).data["draft"] is True


def test_advice_and_decision_are_both_kept(shop: Shop) -> None:
    case, clock = walked(shop, "survey")
    found = [
        {**one, "step_mm": 0.75} if (one["tooth"], one["side"]) == (35, "distal") else one
        for one in DESIGN["survey"]["undercuts"]
    ]
    survey = {**DESIGN["survey"], "undercuts": found}
    deep = {**DESIGN, "survey": survey, "method_reason": "no-time"}
    change(shop, case, clock, deep, standing={"survey": "The gauge was put there again."})
    case.refresh_from_db()
    assert case.design is not None
    data = case.design.data
    assert (data["advised"], data["method"], data["method_reason"]) == (
        "copy",
        "plaster",
        "no-time",
    )


def test_the_practice_agrees_first_where_the_design_leaves_the_order(shop: Shop) -> None:
    case, clock = walked(shop, "trim")
    change(shop, case, clock, {**DESIGN, "replaced": [36, 46, 47]})
    case.refresh_from_db()
    assert case.design is not None
    assert case.design.data["needs_agreement"] is True
    assert case.stages.get(key="agree").state == "planned"


def test_what_waits_for_an_agreement_asked_for_late_says_so(shop: Shop) -> None:
    case, clock = walked(shop, "block-out")
    change(shop, case, clock, {**DESIGN, "needs_agreement": True})
    later = case.stages.get(key="clasps")

    with pytest.raises(Refusal) as refused:
        start_stage(shop.envelope("mara", now=clock.now), stage=later.pk, version=later.version)

    agree = case.stages.get(key="agree")
    assert refused.value.sentence == (f"{later.name} comes after: {agree.name}. Finish that first.")
    assert [one.key for one in stage_view(later, clock.now).open_before] == ["agree"]


def test_a_design_within_the_order_needs_no_agreement(shop: Shop) -> None:
    case, clock = walked(shop, "trim")
    change(shop, case, clock, DESIGN)
    assert not case.stages.filter(key="agree").exclude(state="dropped").exists()


def test_a_finished_design_is_held_to_the_limits_of_the_lab(shop: Shop) -> None:
    case, clock = walked(shop, "survey")
    low = [{**clasp, "room_mm": 1.45} for clasp in DESIGN["clasps"]]
    change(shop, case, clock, {**DESIGN, "clasps": low})  # 0.9 of wire and 0.5 of room
    change_rule_limits(shop.envelope("pavo"), values={"CLP-8": {"over_wire": 0.8}})
    low[0] = {**low[0], "gum_mm": 2.0}
    with pytest.raises(Refusal) as refused:
        change(shop, case, clock, {**DESIGN, "clasps": low})
    assert refused.value.code == "rules"


def test_what_is_done_again_is_asked_by_the_new_design(shop: Shop) -> None:
    case, clock = walked(shop, "clasps")
    longer = {
        **DESIGN,
        "clasps": [{**DESIGN["clasps"][0], "free_arm_mm": 12.0}, DESIGN["clasps"][1]],
    }
    change(shop, case, clock, longer, again=["clasps"])
    asked = case.checks.get(key="25@clasps:35")
    assert asked.state == "open"
    assert asked.spec["measures"][0]["low"] == 11.5
    case.refresh_from_db()
    assert case.design is not None
    assert asked.design_version == case.design.version
    assert case.design.asked_by == "lab"


def test_a_check_judged_by_another_limit_is_asked_again(shop: Shop) -> None:
    case, clock = walked(shop, "block-out")
    stage = case.stages.get(key="clasps")
    clock.now = max(clock.now, stage.ready_at or clock.now)
    start_stage(shop.envelope("mara", now=clock.now), stage=stage.pk, version=stage.version)
    stage.refresh_from_db()
    enter_checks(
        shop.envelope("mara", now=clock.now),
        stage=stage.pk,
        version=stage.version,
        checks=answers(stage),
    )
    longer = [{**DESIGN["clasps"][0], "free_arm_mm": 14.0}, DESIGN["clasps"][1]]
    change(shop, case, clock, {**DESIGN, "clasps": longer})
    items = {item.key: item for item in case.checks.filter(stage=stage)}
    # The arm of 35 is another: whatever was seen of it was seen of the old one.
    for key in ("25@clasps:35", "22@clasps:35"):
        assert (items[key].state, items[key].design_version) == ("open", 3)
    # What passed of 45 passed against version 2, and is readable so.
    assert (items["22@clasps:45"].state, items["22@clasps:45"].design_version) == ("passed", 2)
    entered = CheckResult.objects.filter(item__stage=stage)
    assert set(entered.values_list("state", "design_version")) == {("passed", 2)}
    second, third = version_of(case, 2), version_of(case, 3)
    assert second is not None
    assert third is not None
    asked_of_35 = len([key for key in items if key.endswith(":35")])
    (row,) = [one for one in second.checks if one[0] == stage.name]
    assert row == (stage.name, len(items), asked_of_35)
    (row,) = [one for one in third.checks if one[0] == stage.name]
    assert row == (stage.name, asked_of_35, 0)
    assert verify_record() == []


def test_a_draft_between_hides_no_alteration_from_the_practice(shop: Shop) -> None:
    case, clock = walked(shop, "block-out")
    drafted = change(shop, case, clock, ONE_TOOTH_LESS, draft=True, reason="")
    assert drafted.result["question"] is None
    decided = {"survey": "The cast shows it", "block-out": "Nothing more to block out"}
    done = change(shop, case, clock, ONE_TOOTH_LESS, standing=decided)
    assert done.result["question"] is not None


def test_the_work_goes_on_by_the_finished_design_while_there_is_a_newer_draft(shop: Shop) -> None:
    case, clock = walked(shop, "block-out")
    fewer = {**DESIGN, "clasps": DESIGN["clasps"][:1], "bar": False, "replaced": [36, 37]}
    before = {item.key: item.state for item in case.checks.all()}
    stages = dict(case.stages.values_list("key", "state"))
    change(shop, case, clock, fewer, draft=True, reason="")

    case.refresh_from_db()
    assert case.design is not None
    assert (case.design.version, newest(case).version) == (2, 3)
    assert {item.key: item.state for item in case.checks.all()} == before
    assert dict(case.stages.values_list("key", "state")) == stages
    assert not case.holds.filter(released_at=None).exists()
    with pytest.raises(Refusal) as refused:
        change(shop, case, clock, fewer, reason="")
    assert refused.value.code == "no-reason"
    with pytest.raises(Refusal) as refused:
        change(shop, case, clock, fewer)
    assert refused.value.code == "in-question"
    assert verify_record() == []


def test_a_first_draft_by_which_work_in_hand_would_fall_away_is_kept_beside_it(
    shop: Shop,
) -> None:
    case, clock = walked(shop, "trim")
    cut = {**DESIGN, "missing": [*DESIGN["missing"], 44], "replaced": [*DESIGN["replaced"], 44],
           "extracted": [44]}  # fmt: skip
    change(shop, case, clock, cut, draft=True)
    stage = case.stages.get(key="cast-prep")
    clock.now = max(clock.now, stage.ready_at)
    photo = photograph(shop, case, stage, clock.now, "mara")
    start_stage(
        shop.envelope("mara", now=clock.now), stage=stage.pk, version=stage.version, photo=photo
    )
    change(shop, case, clock, DESIGN, draft=True)
    case.refresh_from_db()
    stage.refresh_from_db()
    assert case.design is not None
    assert (case.design.version, newest(case).version, stage.state) == (2, 3, "running")
