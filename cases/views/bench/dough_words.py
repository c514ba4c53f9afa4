"""The dough at the packing as the bench reads it: its clock, and what to weigh."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from math import ceil
from typing import Any

from django.utils.translation import gettext as _

from cases.domain.cure import bowl as reckoned
from cases.domain.cure.dough import Missed, State, room_words
from cases.domain.design import Design
from cases.forms.dough import MixForm
from cases.models import CaseStage, Mix, Resin
from cases.selectors.resin import PACK, last_mix, resins_in_use, window_of

IN_HAND = frozenset({"running", "paused"})


@dataclass(frozen=True)
class Weighing:
    """What to weigh, as the bench reads it: rounded up, with the formula and its source."""

    words: str
    formula: str
    mark: str


@dataclass(frozen=True)
class DoughView:
    """The dough of one packing.

    ``due`` is what is counted down to: when it opens, else when it closes. ``weighings``: what to
    weigh of the resin that was mixed, or of each that may be while nothing is.
    """

    state: State | None
    mix: Mix | None
    resin: Resin | None
    makers: str
    room: str
    weighings: tuple[Weighing, ...]
    closed_after: float | None = None
    missed: Missed = ""

    @property
    def due(self) -> datetime | None:
        """The instant that the countdown goes to."""
        if self.mix is None or self.state not in {"mixing", "open", "closing", "passed"}:
            return None
        return self.mix.opens_at if self.state == "mixing" else self.mix.closes_at


def dough_view(stage: CaseStage, now: datetime) -> DoughView | None:
    """Return what the bench shows of the dough; None at another stage, or before the packing."""
    if stage.key != PACK or stage.state == "planned":
        return None
    mix = last_mix(stage)
    in_use = resins_in_use()
    resin = mix.resin if mix else in_use[0] if len(in_use) == 1 else None
    window = window_of(mix) if mix else None
    return DoughView(
        state=window.state(now) if window else None,
        mix=mix,
        resin=resin,
        makers=_makers(resin),
        room=room_words(mix.room_c, resin.room_c if resin else None) if mix else "",
        weighings=_weighings(stage, [resin] if resin else in_use),
        closed_after=window.minutes_to_closing() if window else None,
        missed=window.missed if window else "",
    )


def _makers(resin: Resin | None) -> str:
    """Say the maker's minutes, where the lab has entered them."""
    if resin is None:
        return ""
    told = {
        "resin": resin.name, "from": f"{resin.dough_from or 0:g}",
        "until": f"{resin.dough_until or 0:g}", "room": f"{resin.room_c or 0:g}",
    }  # fmt: skip
    if resin.dough_from is not None and resin.dough_until is not None:
        words = _("%(resin)s: dough from %(from)s to %(until)s min after the mix began") % told
    elif resin.dough_until is not None:
        words = _("%(resin)s: dough until %(until)s min after the mix began") % told
    else:
        return (
            _("The maker's minutes of %(resin)s are not entered: what its label says decides.")
            % told
        )
    if resin.room_c is None:
        return _("%(words)s, as its maker says.") % {"words": words}
    return _("%(words)s in a room at %(room)s °C, as its maker says.") % {"words": words, **told}


def _weighings(stage: CaseStage, resins: Sequence[Resin]) -> tuple[Weighing, ...]:
    """Return the estimated quantities, where the design and the ratios of the resins are known.

    It is weighed before it is mixed: of several resins each is told by its name.
    """
    design = stage.case.design
    volume = reckoned.volume_ml(Design.from_json(design.data)) if design else None
    if not volume:
        return ()
    found = (_weighing(resin, volume, named=len(resins) > 1) for resin in resins)
    return tuple(one for one in found if one is not None)


def _weighing(resin: Resin, volume: float, *, named: bool) -> Weighing | None:
    ratios = [one for one in (resin.ratio_low, resin.ratio_high) if one]
    if not ratios:
        return None
    ratio = sum(ratios) / len(ratios)
    liquid_ml = ceil(reckoned.bowl(volume, ratio).liquid_ml * 2) / 2
    told = {
        "resin": resin.name,
        "liquid": f"{liquid_ml:g}",
        "powder": f"{liquid_ml * ratio:.1f}",
        "volume": f"{volume:.1f}",
        "ratio": f"{ratio:.3g}",
    }
    if named:
        words = _(
            "%(resin)s, estimate: about %(liquid)s mL of liquid and %(powder)s g of powder, for a "
            "piece of about %(volume)s mL at %(ratio)s g to 1 mL."
        )
    else:
        words = _(
            "Estimate: about %(liquid)s mL of liquid and %(powder)s g of powder, for a piece of "
            "about %(volume)s mL at %(ratio)s g to 1 mL."
        )
    return Weighing(words % told, _(reckoned.FORMULA), _(reckoned.MARK))


def dough_context(stage: CaseStage, now: datetime) -> dict[str, Any]:
    """Return what the page of a stage shows of its dough, with the empty form."""
    view = dough_view(stage, now)
    if view is None:
        return {}
    form = None
    if stage.state in IN_HAND:
        form = mix_form(view.mix.resin_id if view.mix else None)
    return {"dough": view, "mix_form": form}


def mix_form(usual: int | None, data: Any = None) -> MixForm | None:
    """Return the form for a mix; None in a lab without a resin."""
    resins = resins_in_use()
    return MixForm(data, auto_id="mix-%s", resins=resins, usual=usual) if resins else None
