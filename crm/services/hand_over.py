"""Handing a car over: the sheet is frozen, the promise stands, and the notes are put into the post."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from operator import itemgetter

from django.db import transaction

from crm.care.months import DAYS_IN_MONTH
from crm.care.surfaces import EXTERIOR, PAINT
from crm.models import Forecast, Person, Sheet, Studio, User, Visit
from crm.post.queue import note_receiver, queue_aftercare, queue_wash_now
from crm.selectors.reach import note_reach
from crm.selectors.sheet import SheetContent
from crm.selectors.sheet_builder import sheet_content
from crm.selectors.studio import local_day, the_studio
from crm.services.errors import NeedsReason, Refused
from crm.services.rights import Right, require
from crm.services.storing import store
from crm.services.visits import hold, move


@dataclass(frozen=True)
class Preview:
    """What handing over would do: the sheet in its exact words, what speaks against it, and who gets it."""

    content: SheetContent
    text_version: str
    concerns: tuple[str, ...]
    notes: tuple[str, ...]
    receiver: Person | None
    address: str


def preview(visit: Visit, *, now: datetime) -> Preview:
    """Look before handing over. Writes nothing."""
    studio = the_studio()
    content, version = sheet_content(visit, studio=studio, now=now)
    receiver = note_receiver(visit.car, now)
    address = ""
    notes = []
    if receiver is None:
        notes.append("No keeper, driver or payer is on file: the sheet can only be printed.")
    else:
        reach = note_reach(receiver)
        address = reach.contact.value if reach.contact else ""
        if not address:
            notes.append(f"No note goes to {receiver.name} ({reach.against}): print the sheet.")
    if not visit.layers.filter(taken_back_at__isnull=True).exists():
        notes.append("No layer was recorded on this visit.")
    notes.extend(_too_soon(visit, studio=studio, now=now))
    return Preview(content, version, promise_concerns(visit), tuple(notes), receiver, address)


def _too_soon(visit: Visit, *, studio: Studio, now: datetime) -> list[str]:
    """That a layer is too fresh for the road."""
    fresh = (
        visit.layers.filter(taken_back_at__isnull=True, drive_from__gt=now).order_by("-drive_from").first()
    )
    if fresh is None:
        return []
    until = fresh.drive_from.astimezone(studio.zone)
    when = f"{until:%H:%M} on {until.day} {until:%B}"
    return [f"{fresh.product} is too fresh for the road: let the car stand until {when}."]


def promise_concerns(visit: Visit) -> tuple[str, ...]:
    """Where the studio's own expectation falls short of the months that were sold."""
    if not visit.promise_months:
        return ()
    studio = the_studio()
    rows = [
        row
        for row in Forecast.objects.filter(
            layer__visit=visit, layer__taken_back_at__isnull=True, likely__isnull=False
        ).select_related("layer__product")
        if row.live & EXTERIOR
    ]
    # What is promised is promised for the paint, where paint was done; a zone holds as long as its best layer.
    rows = [row for row in rows if row.live & PAINT] or rows
    best: dict[str, tuple[float, Forecast]] = {}
    for row in rows:
        lasts = (_months_of(row, studio), row)
        best[row.zone] = max(best.get(row.zone, lasts), lasts, key=itemgetter(0))
    if not best:
        return ()
    months, row = min(best.values(), key=itemgetter(0))
    if months >= visit.promise_months:
        return ()
    sentence = (
        f"You promise {visit.promise_months} months, but the way this car is kept {row.layer.product.name} is likely"
        f" to hold about {months:.0f}. Change the promise, or say why it stands."
    )
    return (sentence,)


def _months_of(row: Forecast, studio: Studio) -> float:
    laid_on = local_day(studio, row.layer.laid_at)
    return ((row.likely or laid_on) - laid_on) / timedelta(days=DAYS_IN_MONTH)


@transaction.atomic
def hand_over(*, visit: Visit, by: User | None, at: datetime, now: datetime, reason: str = "") -> Sheet:
    """Give the car back: freeze sheet and promise, and put the aftercare note and the cure note into the post.

    Raises Refused where the visit is not under way, NeedsReason where a concern has no reason beside it.
    """
    require(by, Right.HAND_OVER)
    hold(visit)
    if visit.state == Visit.State.HANDED_OVER:
        raise Refused("The car was handed over already.")
    if at > now + timedelta(minutes=5):
        raise Refused("That time has not come yet.", field="at")
    if visit.arrived_at and at < visit.arrived_at:
        raise Refused("The car cannot leave before it came.", field="at")
    looked_at = preview(visit, now=at)
    if looked_at.concerns and not reason.strip():
        raise NeedsReason(looked_at.concerns, field="reason")
    move(visit, Visit.State.HANDED_OVER)
    visit.ready_at = visit.ready_at or at
    visit.handed_over_at, visit.handed_over_by = at, by
    if looked_at.concerns:
        visit.promise_reason = reason.strip()
    store(visit)
    sheet = Sheet(
        visit=visit, text_version=looked_at.text_version, content=looked_at.content.to_json(), made_at=now
    )
    store(sheet)
    queue_aftercare(visit=visit, sheet=sheet, now=now)
    queue_wash_now(visit=visit, sheet=sheet, now=now)
    return sheet
