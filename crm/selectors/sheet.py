"""The content of an aftercare sheet: what was said at one hand-over, frozen in the column `Sheet.content`.

The paper, the calendar file and the note are all made from this and from nothing else, so that years later
each of them can be made again exactly as it was given.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from phonenumbers import NumberParseException

from crm.care.advice_sheet import Telling
from crm.care.telephone import spoken
from crm.models import Sheet

SHAPE = 1
"""Version of the JSON; a later shape must still read the earlier ones."""


DAMAGED = (
    "This aftercare sheet cannot be read back from the record. What was printed or sent still holds; to have it here "
    "again, restore the record from a backup."
)
TOO_NEW = (
    "This aftercare sheet was written by a newer version of the program. Bring this installation up to that version "
    "to read it."
)


class SheetUnreadable(ValueError):
    """A stored sheet cannot be read back; the sentence says what to do. What is wrong in it is the cause."""

    def __init__(self, sentence: str) -> None:
        self.sentence = sentence
        super().__init__(sentence)


@dataclass(frozen=True, slots=True, kw_only=True)
class LaidLine:
    """One layer as the owner reads it."""

    product: str
    kind: str
    where: str
    until: str
    """In words, such as "until around February 2027"; empty where no forecast can be made."""


@dataclass(frozen=True, slots=True, kw_only=True)
class AdviceLine:
    """One piece of advice: what, half a sentence why, and until when where it ends."""

    code: str
    words: str
    why: str = ""
    until: datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Wait:
    """A line of what not to do, with its end as the owner is told it."""

    words: str
    why: str
    until: str
    """In words; empty where it holds for good."""
    ends: datetime | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Advice:
    """The advice that was composed for this car and this owner, in the words that were given."""

    text_version: str
    headlines: tuple[str, ...] = ()
    """The three lines of the card: what is on the car, what not to do yet, how this owner washes it."""
    donts: tuple[AdviceLine, ...] = ()
    care: tuple[AdviceLine, ...] = ()
    safety: tuple[AdviceLine, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class WashVisit:
    """A maintenance wash that the plan foresees."""

    on: date
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetContent:
    """Everything that stands on the sheet, in the words it was given with."""

    studio_name: str
    studio_address: str
    studio_phone: str
    time_zone: str
    paper: str
    """"A4" or "Letter"."""
    car_words: str
    """Colour and model: "blue Halden Estate"."""
    plate: str
    keeper_name: str
    handed_over_at: datetime
    layers: tuple[LaidLine, ...]
    advice: Advice
    wash_visits: tuple[WashVisit, ...] = ()
    promise: str = ""
    promise_months: int | None = None
    signature: str = ""
    revision: int = 0
    """How often the sheet was made anew for the same visit; the SEQUENCE of its calendar entries."""

    @property
    def zone(self) -> ZoneInfo:
        """The zone in which every time on the sheet is written."""
        return ZoneInfo(self.time_zone)

    @property
    def donts_by_end(self) -> tuple[AdviceLine, ...]:
        """What not to do, the first to end first; what has no end last."""
        return tuple(
            sorted(
                self.advice.donts, key=lambda line: (line.until is None, line.until or self.handed_over_at)
            )
        )

    @property
    def waits(self) -> tuple[Wait, ...]:
        """The same in the words of the sheet, as they are told at the hand-over."""
        telling = Telling(self.handed_over_at, self.zone)
        return tuple(
            Wait(
                words=line.words,
                why=line.why,
                until=telling.until(line.until) if line.until else "",
                ends=line.until,
            )
            for line in self.donts_by_end
        )

    def to_json(self) -> dict[str, Any]:
        """Plain values for a JSON column; moments and days as ISO 8601."""
        return {
            "shape": SHAPE,
            "studio_name": self.studio_name,
            "studio_address": self.studio_address,
            "studio_phone": self.studio_phone,
            "time_zone": self.time_zone,
            "paper": self.paper,
            "car_words": self.car_words,
            "plate": self.plate,
            "keeper_name": self.keeper_name,
            "handed_over_at": self.handed_over_at.isoformat(),
            "layers": [
                {"product": line.product, "kind": line.kind, "where": line.where, "until": line.until}
                for line in self.layers
            ],
            "advice": {
                "text_version": self.advice.text_version,
                "headlines": list(self.advice.headlines),
                "donts": [_line_to_json(line) for line in self.advice.donts],
                "care": [_line_to_json(line) for line in self.advice.care],
                "safety": [_line_to_json(line) for line in self.advice.safety],
            },
            "wash_visits": [{"on": visit.on.isoformat(), "words": visit.words} for visit in self.wash_visits],
            "promise": self.promise,
            "promise_months": self.promise_months,
            "signature": self.signature,
            "revision": self.revision,
        }

    @classmethod
    def from_json(cls, stored: Mapping[str, Any]) -> SheetContent:
        """Read a stored sheet back. Raises SheetUnreadable where it is not one."""
        try:
            return _read(stored)
        except SheetUnreadable:
            raise
        except (KeyError, TypeError, ValueError, AttributeError) as error:
            raise SheetUnreadable(DAMAGED) from error


def content_of(sheet: Sheet) -> SheetContent:
    """What a stored sheet says. Raises SheetUnreadable."""
    return SheetContent.from_json(sheet.content)


def phone_words(phone: str, region: str = "") -> str:
    """A telephone number spaced for reading, or as it was typed where it is no number."""
    try:
        return spoken(phone, region)
    except NumberParseException:
        return phone


def _line_to_json(line: AdviceLine) -> dict[str, Any]:
    return {
        "code": line.code,
        "words": line.words,
        "why": line.why,
        "until": line.until.isoformat() if line.until else None,
    }


def _read(stored: Mapping[str, Any]) -> SheetContent:
    shape = stored["shape"]
    if shape != SHAPE:
        raise SheetUnreadable(TOO_NEW if isinstance(shape, int) and shape > SHAPE else DAMAGED)
    advice = stored["advice"]
    # A zone that no clock knows would only be missed on the page.
    ZoneInfo(stored["time_zone"])
    return SheetContent(
        studio_name=stored["studio_name"],
        studio_address=stored["studio_address"],
        studio_phone=stored["studio_phone"],
        time_zone=stored["time_zone"],
        paper=stored["paper"],
        car_words=stored["car_words"],
        plate=stored["plate"],
        keeper_name=stored["keeper_name"],
        handed_over_at=datetime.fromisoformat(stored["handed_over_at"]),
        layers=tuple(
            LaidLine(product=line["product"], kind=line["kind"], where=line["where"], until=line["until"])
            for line in stored["layers"]
        ),
        advice=Advice(
            text_version=advice["text_version"],
            headlines=tuple(advice["headlines"]),
            donts=_read_lines(advice["donts"]),
            care=_read_lines(advice["care"]),
            safety=_read_lines(advice["safety"]),
        ),
        wash_visits=tuple(
            WashVisit(on=date.fromisoformat(visit["on"]), words=visit["words"])
            for visit in stored["wash_visits"]
        ),
        promise=stored["promise"],
        promise_months=stored["promise_months"],
        signature=stored["signature"],
        revision=stored["revision"],
    )


def _read_lines(stored: Sequence[Mapping[str, Any]]) -> tuple[AdviceLine, ...]:
    return tuple(
        AdviceLine(
            code=line["code"],
            words=line["words"],
            why=line["why"],
            until=datetime.fromisoformat(line["until"]) if line["until"] else None,
        )
        for line in stored
    )
