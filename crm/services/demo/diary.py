"""What happened at the studio, in the order in which it happened, with the post going out on the way."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from crm.models import Car, Message
from crm.post.claim import claim, due
from crm.post.plan import plan_letters
from crm.post.states import move
from crm.services.demo.crew import Crew
from crm.services.demo.days import Days
from crm.services.forecasts import reforecast_car

POST_SINCE = timedelta(days=405)
"""So long ago the studio began to hand cars over with a sheet and to write to owners."""
ROUND_EVERY = timedelta(days=21)
LAST_ROUND = timedelta(days=10)
"""The newest round was so long ago: what has come up since is found by the first round of the running studio."""


@dataclass(order=True)
class _Page:
    at: datetime
    place: int
    do: Callable[[datetime], None] = field(compare=False)


@dataclass
class Diary:
    """Collects what happens when, and lets it happen in order of time, up to the day of the start."""

    days: Days
    crew: Crew
    pages: list[_Page] = field(default_factory=list)

    @property
    def post_since(self) -> datetime:
        """The moment from which cars are handed over with sheet and post."""
        return self.days.now - POST_SINCE

    def write(self, at: datetime, do: Callable[[datetime], None]) -> None:
        """Put something down for a moment; what has not come yet does not happen."""
        if at <= self.days.now:
            self.pages.append(_Page(at, len(self.pages), do))

    def play(self) -> None:
        """Let everything happen. Of two things at one moment, the one written first comes first."""
        self._post_rounds()
        for page in sorted(self.pages):
            page.do(page.at)
        send(self.days.now - timedelta(minutes=1), self.crew)

    def _send(self, at: datetime) -> None:
        send(at, self.crew)

    def _forecast_everything(self, at: datetime) -> None:
        for car in Car.objects.order_by("pk"):
            reforecast_car(car, studio=self.crew.studio, now=at)

    def _post_rounds(self) -> None:
        """Once a day the post leaves; every three weeks somebody looks for what there is to write about."""
        self.write(self.post_since, self._forecast_everything)
        day = self.post_since.astimezone(self.days.zone).date()
        count = 0
        while day <= self.days.today:
            if count % ROUND_EVERY.days == 0 and self.days.today - day >= LAST_ROUND:
                self.write(self.days.at(day, 7, 45), _look_for_letters)
            self.write(self.days.at(day, 10, 5), self._send)
            day, count = day + timedelta(days=1), count + 1


def _look_for_letters(at: datetime) -> None:
    plan_letters(now=at)


def send(at: datetime, crew: Crew) -> int:
    """Let what is due leave as it left then: claimed, looked at again, worded. Returns how many left.

    There was no mail server in this invented past, so nothing is carried anywhere.
    """
    left = 0
    for pk in due(now=at):
        message = claim(pk, now=at, studio=crew.studio)
        if message is not None:
            left += move(message, Message.State.SENT, because="", sent_at=at)
    return left
