"""What the tests of the post share: cars that were here, a hand-over, a mail server that is hard to please."""

from __future__ import annotations

import asyncio
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from email.message import EmailMessage
from typing import Any

from aiosmtpd.smtp import SMTP, Envelope, Session

from crm.care.surfaces import PANELS, Surfaces
from crm.care.terms import Parking, ProductClass, Wash
from crm.models import Car, Message, Person, Sheet, Visit
from crm.post.headers import File
from crm.post.tick import Turn, tick
from crm.services.hand_over import hand_over
from tests import factories
from tests.conftest import PostOffice

MAY = datetime(2026, 5, 4, 14, 10, tzinfo=UTC)
"""15:10 on a Monday in Skerrin."""
OCTOBER = datetime(2026, 10, 6, 9, 0, tzinfo=UTC)
"""10:00 on a Tuesday in Skerrin, in the weeks of the winter prompts."""
SIX_MONTHS = (4.0, 6.0, 8.0)
"""Low, likely, high."""


@dataclass
class FussyOffice(PostOffice):
    """A mail server that can refuse at every step, and can fall silent once it has the message."""

    to_mail: str = "250 OK"
    to_data: str = "250 Taken"
    hangs_up: bool = False

    async def handle_MAIL(  # noqa: N802 - the name aiosmtpd calls
        self, _server: SMTP, _session: Session, envelope: Envelope, address: str, _options: list[str]
    ) -> str:
        if self.to_mail.startswith("2"):
            envelope.mail_from = address
        return self.to_mail

    async def handle_DATA(self, server: SMTP, session: Session, envelope: Envelope) -> str:  # noqa: N802
        if self.hangs_up:
            await super().handle_DATA(server, session, envelope)
            assert isinstance(server.transport, asyncio.WriteTransport)
            server.transport.abort()
            return "250 never heard"
        if self.to_data.startswith("2"):
            await super().handle_DATA(server, session, envelope)
        return self.to_data


def no_papers(_sheet: Sheet) -> Sequence[File]:
    """For tests that are not about the papers: they take their time."""
    return ()


def turn(now: datetime) -> Turn:
    """One turn of the post without papers."""
    return tick(now=now, papers=no_papers)


def willing(name: str = "", **known: Any) -> Person:
    """Somebody who agreed to letters by e-mail."""
    return factories.person(name, letters=True, at=MAY - timedelta(days=400), **known)


def sealed_car(
    keeper: Person | None = None,
    *,
    at: datetime = MAY,
    surfaces: Surfaces = PANELS,
    life: tuple[float, float, float] = SIX_MONTHS,
    salted: bool | None = True,
    **known: Any,
) -> Car:
    """A car that was sealed and handed over, and whose sealant goes within some months."""
    car = factories.car(keeper=keeper or willing(), **known)
    factories.keeping(
        car,
        since=(at - timedelta(days=30)).date(),
        parking=Parking.GARAGE,
        km_a_year=10_000,
        wash_summer=Wash.HAND_NEUTRAL,
        wash_winter=Wash.HAND_NEUTRAL,
        salted_roads=salted,
    )
    # Figures belong to a product, so another life is another product.
    name = "Gannet paint sealant" if life == SIX_MONTHS else f"Gannet sealant for {life[1]} months"
    sealant = factories.product(ProductClass.POLYMER_SEALANT, name, life=life)
    factories.layer(car, sealant, surfaces=surfaces, at=at)
    return car


def handed_over(
    car: Car | None = None, *, at: datetime = MAY, now: datetime | None = None, surfaces: Surfaces = PANELS
) -> Visit:
    """A visit with a coating, handed over at that moment through the service, with its notes in the post."""
    car = car or factories.car(keeper=willing("Cerys Harrow"))
    stay = factories.visit(car, at=at - timedelta(hours=6))
    coating = factories.product(ProductClass.COATING_PROFESSIONAL, "Fulmar two-year coating")
    factories.layer(stay, coating, surfaces=surfaces, at=at - timedelta(hours=4))
    hand_over(visit=stay, by=None, at=at, now=now or at)
    stay.refresh_from_db()
    return stay


def message_of(visit: Visit, kind: Message.Kind) -> Message:
    """The note of a kind that a visit brought forth."""
    return Message.objects.get(visit=visit, kind=kind)


def soon_after(moment: datetime | None, expected: datetime) -> bool:
    """Whether a moment that was written down is the expected one, but for the seconds that the test took."""
    return moment is not None and timedelta() <= moment - expected < timedelta(seconds=30)


def body(mail: EmailMessage, kind: str = "plain") -> str:
    """The text of a received mail."""
    part = mail.get_body((kind,))
    assert part is not None
    return str(part.get_content())
