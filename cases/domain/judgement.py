"""Judge what was entered for a check: passed, failed or still open, in one plain sentence.

A rule is a function of the check, the answer and the kept values; ``RULES`` names them, so a
new rule is one new function and one line.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from math import isfinite

from cases.domain.check_spec import Answer, Judgement, Measure, PlannedCheck
from cases.domain.words import N_
from cases.domain.words import gettext as _

Kept = Mapping[str, Mapping[str, float]]
Rule = Callable[[PlannedCheck, Mapping[str, float], Kept], Judgement | None]

# Entered numbers have one or two decimals; differences of them are rounded to this many
# places so that 5.1 − 4.1 is not below 1.0.
DIFFERENCE_PLACES = 3

# The most bracing that may be lost between wax and finish where only a caliper can tell.
# judgement, mm
CALIPER_LOSS_MM = 0.5

# From this thickness the cure is to be told: long program or slow rise (Phillips' Science of
# Dental Materials, from memory, for the principle; judgement for the number), mm.
THICK_WARN_MM = 10.0

# Where the numbers of the resin in use stand among the kept values; the laboratory entered them
# from its maker's instructions, each may be missing.
RESIN = "resin"
RESIN_LIMITS = {
    "ratio": ("ratio_low", "ratio_high"),
    "dough": ("dough_from", "dough_until"),
}

# Where the minutes that the clock of the dough noted stand among the kept values; missing where
# nobody pressed it.
CLOCK = "clock"
# So far entered minutes may be from the clock's: a hand presses it a little late. Judgement.
CLOCK_APART_MIN = 2.0

ENTER_TRUE = N_("Enter what is true; where the clock was pressed too late, a colleague accepts it.")
CLOSE_AGAIN = N_("Close it for trial again while it is dough.")
NEXT_STEP = N_("Mend it and check again, send it back, or ask for a concession.")


def judge(check: PlannedCheck, answer: Answer, kept: Kept) -> Judgement:
    """Judge what was entered. ``kept`` maps check keys to the kept values of this case
    (``{"12@survey:44": {"line": 5.4}}``); limits are inclusive.

    Raises
    ------
    ValueError
        A value is not a finite number, or the check names a rule that nobody knows.
    """
    values = dict(answer.values or {})
    for key, value in values.items():
        if not isfinite(value):
            raise ValueError(f"{key} should be a number that can be measured.")
    rule = RULES.get(check.rule)
    if rule is None:
        raise ValueError(f"Nobody knows the rule “{check.rule}”.")
    judged = rule(check, values, kept)
    if judged is not None and judged.state == "failed":
        return judged
    if check.yes_no and answer.yes is False:
        return Judgement("failed", _said_no(check))
    missing = _missing(check, answer, values)
    if missing:
        return Judgement("open", _("Still to do: %(missing)s.") % {"missing": ", ".join(missing)})
    if judged is None:
        return Judgement("passed", _facts(check, answer))
    told = [
        _fact(check, measure, answer)
        for measure in check.measures
        if measure.key in values and told_of(check, measure.key, answer.words or {})
    ]
    if not told:
        return judged
    return replace(judged, sentence=f"{'. '.join(told)}. {judged.sentence}")


def _said_no(check: PlannedCheck) -> str:
    return (
        _("No. %(if_not)s") % {"if_not": _(check.if_not)}
        if check.if_not
        else _("No. %(next_step)s") % {"next_step": _(NEXT_STEP)}
    )


def _missing(check: PlannedCheck, answer: Answer, values: Mapping[str, float]) -> list[str]:
    missing = []
    if check.yes_no and answer.yes is None:
        missing.append(_("answer yes or no"))
    missing += [
        _("enter “%(measure)s” in %(unit)s")
        % {"measure": _(measure.words), "unit": _(measure.unit)}
        if measure.unit
        else _("enter “%(measure)s”") % {"measure": _(measure.words)}
        for measure in check.measures
        if measure.key not in values
    ]
    missing += [
        _("say “%(what)s”") % {"what": _(one.words)}
        for one in check.told
        if not (answer.words or {}).get(one.key)
    ]
    if check.photo and answer.photos < 1:
        missing.append(_("take a photograph"))
    return missing


def _facts(check: PlannedCheck, answer: Answer) -> str:
    facts = [
        _fact(check, measure, answer)
        for measure in check.measures
        if measure.key in (answer.values or {})
    ]
    return ". ".join([*facts, _("In order.")]) if facts else _("In order.")


def _fact(check: PlannedCheck, measure: Measure, answer: Answer) -> str:
    """Say a number with its unit, and the words that were told of it: “40 bar, gauge”."""
    value = (answer.values or {})[measure.key]
    told = told_of(check, measure.key, answer.words or {})
    unit = _(measure.unit) if measure.unit else (told.pop(0) if told else "")
    said = _("%(measure)s: %(value)g %(unit)s") % {
        "measure": _(measure.words),
        "value": value,
        "unit": unit,
    }
    return ", ".join([said.rstrip(), *told])


def told_of(check: PlannedCheck, key: str, words: Mapping[str, str]) -> list[str]:
    """Return the words that were told of the number ``key``, in the reader's language."""
    return [
        _(words[one.key]) if words[one.key] in one.choices else words[one.key]
        for one in check.told
        if one.of == key and words.get(one.key)
    ]


def _outside(measure: Measure, value: float) -> bool:
    below = measure.low is not None and value < measure.low
    above = measure.high is not None and value > measure.high
    return below or above


def _refused(measure: Measure, value: float) -> bool:
    below = measure.refuse_low is not None and value < measure.refuse_low
    above = measure.refuse_high is not None and value > measure.refuse_high
    return below or above


def _limits(check: PlannedCheck, values: Mapping[str, float], kept: Kept) -> Judgement | None:
    """Each number against its own limits; every one that is outside is said."""
    return _refusal(check, values, [], check.if_not)


def _refusal(
    check: PlannedCheck, values: Mapping[str, float], besides: list[str], step: str
) -> Judgement | None:
    """Say every number outside its own limits, what is wrong ``besides``, and the next step."""
    failed = _failed(check, values)
    facts = [_beyond(measure, values[measure.key]) for measure in failed] + besides
    if not facts:
        return None
    concession = not any(_refused(measure, values[measure.key]) for measure in failed)
    never = "" if concession else _(" This cannot be accepted by a concession.")
    return Judgement(
        "failed",
        _("%(facts)s %(if_not)s%(never)s")
        % {"facts": " ".join(facts), "if_not": _(step or NEXT_STEP), "never": never},
        concession,
    )


def _failed(check: PlannedCheck, values: Mapping[str, float]) -> list[Measure]:
    return [m for m in check.measures if m.key in values and _outside(m, values[m.key])]


def _beyond(measure: Measure, value: float) -> str:
    fact = _("%(measure)s: %(value)g %(unit)s") % {
        "measure": _(measure.words),
        "value": value,
        "unit": _(measure.unit) if measure.unit else "",
    }
    return fact.rstrip() + _("; it should be %(limit)s.") % {"limit": measure.limit_words}


def _thickness(check: PlannedCheck, values: Mapping[str, float], kept: Kept) -> Judgement | None:
    """As the limits; a very thick section passes with a word to the bath."""
    judged = _limits(check, values, kept)
    thickest = values.get("thickest")
    if judged is None and thickest is not None and thickest > THICK_WARN_MM:
        words = _("Warn the bath: thick acrylic wants the long program or a slow rise.")
        return Judgement(
            "passed",
            _("Thickest place %(thickest)g mm. %(words)s") % {"thickest": thickest, "words": words},
        )
    return judged


def _mix(check: PlannedCheck, values: Mapping[str, float], kept: Kept) -> Judgement | None:
    """As the limits; the ratio and the last closing against what the resin's maker says.

    What is not known of the resin is left to the label. The press reading is kept and judged by
    nothing: a gauge does not tell the pressure in the resin. Minutes that differ from the clock's
    are asked about, for one of the two is wrong.
    """
    powder, liquid = values.get("powder"), values.get("liquid")
    if (powder is not None and powder <= 0) or (liquid is not None and liquid <= 0):
        return Judgement("failed", _("Powder and liquid should both be more than 0. Weigh again."))
    ratio = Measure("ratio", N_("Powder to liquid"), N_("g to 1 ml"))
    closing = Measure("minutes", N_("From mix to last closing"), "min")
    asked = []
    if powder is not None and liquid is not None:
        grams = round(powder / liquid, DIFFERENCE_PLACES)
        asked.append((_by_the_maker(ratio, "ratio", kept), grams))
    if "minutes" in values:
        asked.append((_by_the_maker(closing, "dough", kept), values["minutes"]))
    wrong = [_against(measure, value) for measure, value in asked if _outside(measure, value)]
    unlike = _unlike_the_clock(values, kept)
    step = check.if_not
    if not wrong and all(measure.key == "closings" for measure in _failed(check, values)):
        step = ENTER_TRUE if unlike else CLOSE_AGAIN
    judged = _refusal(check, values, [*wrong, *unlike], step)
    if judged is not None:
        return judged
    if powder is None or liquid is None:
        return None
    known = [_against(measure, value) for measure, value in asked if measure.limit_words]
    if asked[0][0].limit_words:
        return Judgement("passed", " ".join(known))
    label = _("%(ratio).2f g to 1 ml. Compare with the maker's label.") % {"ratio": powder / liquid}
    return Judgement("passed", " ".join([label, *known]))


def _unlike_the_clock(values: Mapping[str, float], kept: Kept) -> list[str]:
    """Say that the entered minutes are not those that the clock of the dough noted."""
    entered, clock = values.get("minutes"), kept.get(CLOCK, {}).get("minutes")
    if entered is None or clock is None or abs(entered - clock) <= CLOCK_APART_MIN:
        return []
    words = _("From mix to last closing: %(entered)g min entered, %(clock)g min by the clock.")
    return [words % {"entered": entered, "clock": clock}]


def _by_the_maker(measure: Measure, what: str, kept: Kept) -> Measure:
    """Return the measure with the limits that the resin's maker gives; None where not known."""
    resin, (low, high) = kept.get(RESIN, {}), RESIN_LIMITS[what]
    return replace(measure, low=resin.get(low), high=resin.get(high))


def _against(measure: Measure, value: float) -> str:
    return _("%(measure)s: %(value).3g %(unit)s; the maker asks for %(limit)s.") % {
        "measure": _(measure.words),
        "value": value,
        "unit": _(measure.unit),
        "limit": measure.limit_words,
    }


def _kept_value(check: PlannedCheck, number: str, stage: str, key: str, kept: Kept) -> float | None:
    return kept.get(f"{number}@{stage}:{check.subject}", {}).get(key)


def _height(check: PlannedCheck, height: float, low: float) -> Judgement:
    """Judge how far the bracing stands above the survey line, mm, against the reserve."""
    height = round(height, DIFFERENCE_PLACES)
    step = _("Add wax") if check.stage == "wax" else _("Send it back")
    if height < 0:
        fact = _("Bracing behind %(subject)s is %(height)g mm below the survey line.") % {
            "subject": check.subject,
            "height": -height,
        }
        return Judgement(
            "failed",
            _("%(fact)s %(step)s, or ask for a concession.") % {"fact": fact, "step": step},
            binding=True,
        )
    if height >= low:
        return Judgement("passed", _("%(height)g mm above the line. Enough.") % {"height": height})
    if check.stage == "wax":
        words = _("%(height)g mm above the line. Finishing takes that. Add wax.") % {
            "height": height
        }
    else:
        words = _(
            "%(height)g mm above the line; at least %(low)g mm should be left. %(step)s, "
            "or ask for a concession."
        ) % {"height": height, "low": low, "step": step}
    return Judgement("failed", words)


def _bracing(check: PlannedCheck, values: Mapping[str, float], kept: Kept) -> Judgement | None:
    """Cusp tip to line (kept at survey) minus cusp tip to edge: the height above the line."""
    edge = next((measure for measure in check.measures if measure.key == "edge"), None)
    if edge is None or "edge" not in values:
        return None
    line = _kept_value(check, edge.source_value, "survey", "line", kept)
    if line is None:
        words = _("Cusp tip to survey line behind %(subject)s was not kept at the survey.") % {
            "subject": check.subject
        }
        return Judgement(
            "failed",
            _("%(words)s Measure it there first, or ask for a concession.") % {"words": words},
        )
    return _height(check, line - values["edge"], edge.low or 0.0)


def _bracing_band(check: PlannedCheck, values: Mapping[str, float], kept: Kept) -> Judgement | None:
    """Without a master: from the band of the fitting side, or by what the caliper lost."""
    measure = check.measures[0] if check.measures else None
    if measure is None or measure.key not in values:
        return None
    if measure.key == "band":
        return _height(check, values["band"], measure.low or 0.0)
    return _caliper(check, values["caliper"], measure, kept)


def _caliper(check: PlannedCheck, now: float, measure: Measure, kept: Kept) -> Judgement:
    then = _kept_value(check, measure.source_value, "wax", "caliper", kept)
    if then is None:
        words = _("The caliper height of the wax behind %(subject)s was not kept.") % {
            "subject": check.subject
        }
        return Judgement(
            "failed",
            _("%(words)s Nothing tells how much was lost. Ask for a concession.")
            % {"words": words},
        )
    loss = round(then - now, DIFFERENCE_PLACES)
    line = _kept_value(check, "12", "survey", "line", kept)
    edge = _kept_value(check, measure.source_value, "wax", "edge", kept)
    if line is not None and edge is not None and line - edge - loss < -(10**-DIFFERENCE_PLACES):
        return _height(check, line - edge - loss, 0.0)
    if loss > CALIPER_LOSS_MM:
        words = _(
            "%(loss)g mm of bracing behind %(subject)s was lost since the wax; at most "
            "%(most)g mm may be. Send it back, or ask for a concession."
        ) % {"loss": loss, "subject": check.subject, "most": CALIPER_LOSS_MM}
        return Judgement("failed", words)
    return Judgement(
        "passed", _("%(loss)g mm lost since the wax. Enough is left.") % {"loss": max(loss, 0.0)}
    )


RULES: dict[str, Rule] = {
    "limits": _limits,
    "thickness": _thickness,
    "mix": _mix,
    "bracing": _bracing,
    "bracing-band": _bracing_band,
}

# What the route editor says of each rule.
RULE_WORDS: dict[str, str] = {
    "limits": N_("Each number against its own limits"),
    "thickness": N_("Limits, and a warning to the bath when very thick"),
    "mix": N_("Limits, and powder to liquid and the last closing by the resin's maker"),
    "bracing": N_("Height above the survey line: value kept at the survey minus measured"),
    "bracing-band": N_("Without a master: from the blocked-out band, or caliper against the wax"),
}
