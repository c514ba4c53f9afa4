"""Questions, orders and cautions speak of stages that the default route really has."""

from cases.domain.cautions import AT_STAGE
from cases.domain.order_choices import ITEM_STAGES
from cases.domain.order_rules import NEED_THE_PIECE, SHAPING
from cases.domain.questions import QUESTIONS
from cases.domain.route_data import default_template

STAGES = {stage.key for stage in default_template().stages}


def test_questions_stop_stages_of_the_route() -> None:
    assert {key for question in QUESTIONS for key in question.stops} <= STAGES


def test_orders_hold_stages_of_the_route() -> None:
    held = {key for keys in ITEM_STAGES.values() for key in keys}

    assert held | set(SHAPING) | set(NEED_THE_PIECE) <= STAGES


def test_cautions_stand_at_stages_of_the_route() -> None:
    assert set(AT_STAGE) <= STAGES
