"""What a correction achieved: a share of the marks, estimated by eye, and never a promise.

One stage of machine polishing commonly removes some 70 to 80 % of the marks (common practice, no source). The
trade's own words put an enhancement, or one-step, at 50 to 70 %, two stages at 80 to 90 and more at 90 to 95:
the ranges are in the data, each studio may have its own, and not one of them reaches 100 %.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from math import floor, isfinite

from crm.care.paint_change import POLISHES
from crm.care.paint_terms import LIGHT_NAMES, STAGE_NAMES, Light, Stages
from crm.care.tables import DEFAULTS
from crm.care.terms import Process
from crm.care.thickness_figures import Span, ThicknessFigures

LONGEST_METHOD = 200
"""Characters."""


class NotAnEstimate(ValueError):
    """An estimate that cannot be kept; the message says what to change."""


@dataclass(frozen=True, slots=True)
class CorrectionEstimate:
    """What went, as the share of the marks from 0 to 1, by eye; what it was seen under, and how it was done.

    `method` is in the studio's words: machine, pad, polish, passes. `wiped`: looked at after a panel wipe, which
    takes the oils off that hide marks; None: not recorded. Raises NotAnEstimate with a sentence.
    """

    low: float
    high: float
    lights: frozenset[Light]
    method: str
    wiped: bool | None
    stages: Stages | None = None

    def __post_init__(self) -> None:
        if not (isfinite(self.low) and isfinite(self.high)) or self.low < 0:
            raise NotAnEstimate("The share of marks that went has to be a number from 0 to under 100 %.")
        if max(self.low, self.high) >= 1:
            raise NotAnEstimate(
                "Nobody can say that every mark went: another light shows more. Stay under 100 %, and never promise it."
            )
        if self.low > self.high:
            raise NotAnEstimate("The estimate runs from the least to the most: the first is over the second.")
        if not self.lights:
            raise NotAnEstimate("Say which light it was seen under: marks that hide in one show in another.")
        if not self.method.strip():
            raise NotAnEstimate(
                "Say how it was done, so that it can be done again: machine, pad, polish, passes."
            )
        if len(self.method) > LONGEST_METHOD:
            raise NotAnEstimate(f"Say how it was done in {LONGEST_METHOD} characters or fewer.")

    @property
    def words(self) -> str:
        """The estimate with all that qualifies it, for screens, sheets and letters."""
        wiped = {
            True: "after panel wipe",
            False: "without panel wipe, so oils may hide marks",
            None: "panel wipe not recorded",
        }[self.wiped]
        lights = _listed([LIGHT_NAMES[light] for light in Light if light in self.lights])
        return f"{_share(Span(self.low, self.high))} of the marks, estimated, by eye, {wiped}, under {lights}"

    def doubt(self, figures: ThicknessFigures = DEFAULTS.thickness) -> str:
        """A sentence where more went than that many stages usually take; otherwise empty."""
        if self.stages is None or self.high <= figures.correction[self.stages].high:
            return ""
        usual = f"{_take(self.stages)} ({_share(figures.correction[self.stages])})"
        return f"That is more than {usual}: look again under another light."


def stages_of(processes: Iterable[Process]) -> Stages | None:
    """How many stages a panel's processes of one visit come to; None where nothing was polished.

    The same process twice is one stage. A single finishing polish is an enhancement.
    """
    kinds = {process for process in processes if process in POLISHES}
    if len(kinds) == 1:
        return Stages.ENHANCEMENT if kinds == {Process.FINE_POLISH} else Stages.ONE
    return {0: None, 2: Stages.TWO}.get(len(kinds), Stages.MORE)


def expected_words(stages: Stages, figures: ThicknessFigures = DEFAULTS.thickness) -> str:
    """What may be said before the work: what usually goes, and that it is no promise."""
    words = f"{_take(stages)} {_share(figures.correction[stages])} of the marks"
    return (
        f"{words[:1].upper()}{words[1:]}, estimated, by eye, after panel wipe. You will see the difference; that every"
        " mark goes, nobody can promise."
    )


def _take(stages: Stages) -> str:
    several = stages in (Stages.TWO, Stages.MORE)
    return f"{STAGE_NAMES[stages]} usually {'take' if several else 'takes'}"


def _share(share: Span) -> str:
    # Down to the whole per cent, so that 99.9 is never shown as everything.
    low, high = (f"{floor(100 * value + 1e-9)}" for value in (share.low, share.high))
    return f"about {low} %" if low == high else f"{low} to {high} %"


def _listed(words: list[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
