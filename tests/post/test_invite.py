"""The letters of a winter round: what they say, whom they reach, and what stops one at the last moment."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from crm.care.surfaces import WHEELS, Zone, surfaces_of
from crm.care.terms import EndReason, ProductClass
from crm.models import Car, CarEvent, Matter, Message, WinterInvitation, WinterRound
from crm.post.invite import queue_invitations
from crm.post.plan import plan_letters
from crm.post.recheck import ROUND_DECIDES, Go, verdict
from crm.post.render import rendered
from crm.selectors.post_list import matters_of
from crm.selectors.winter_asked import Stands, asked_of
from crm.services import visits
from crm.services.bench import end_layer
from crm.services.taking_back import take_back_event
from crm.services.winter_asking import ask_in_person, ask_week, hear_winter_answer
from crm.services.winter_round import close_round, set_aside
from tests import factories
from tests.conftest import PostOffice
from tests.post.cast import turn
from tests.winter_scene import APRIL, FIRST_WEEK, SEPTEMBER, opened, owner, planned_round, sealed

pytestmark = pytest.mark.django_db
Answer, State = WinterInvitation.Answer, Message.State


def _asked(*cars: Car) -> tuple[WinterRound, list[WinterInvitation]]:
    assert cars
    season = planned_round(weeks=1)
    ask_week(season=season, monday=FIRST_WEEK, by=None, now=SEPTEMBER)
    return season, list(season.invitations.order_by("pk"))


def _letter(invitation: WinterInvitation) -> Message:
    assert invitation.message is not None
    invitation.message.refresh_from_db()
    return invitation.message


def _text(invitation: WinterInvitation, now: datetime = SEPTEMBER) -> str:
    return rendered(_letter(invitation), now=now, studio=factories.studio()).text


def _paragraph(invitation: WinterInvitation, now: datetime = SEPTEMBER) -> str:
    return next(line for line in _text(invitation, now).splitlines() if line.startswith("Your "))


def test_letter_says_one_true_fact_the_work_its_time_and_the_week() -> None:
    _, (invitation,) = _asked(sealed(owner("Ada Quill")))
    assert _paragraph(invitation) == (
        "Your blue Halden Estate: the Fulmar polymer sealant laid in April is likely to be thin by early September"
        " 2026, and roads here are usually salted from November. A winter coat takes about six hours, and it may stay"
        " with us overnight. As things stand there is room for it in the week of 14 September."
    )
    text = _text(invitation)
    assert text.startswith("Hello Ada Quill,\n")
    assert "Reply with a day that suits you, “later” or “no thanks”: each is fine." in text
    assert "No more letters like this: " in text
    # Under sixty words on the phone for each car: common practice, no source.
    assert len(_paragraph(invitation).split()) < 60


def test_letter_about_a_coated_car_offers_the_top_up() -> None:
    car = sealed(owner(), product=ProductClass.LIGHT_COATING, at=APRIL - timedelta(days=300))
    _, (invitation,) = _asked(car)
    assert _paragraph(invitation).endswith(
        "A top-up takes about three and a half hours. As things stand there is room for it in the week of 14 September."
    )


def test_letter_about_a_bare_car_says_so() -> None:
    car = sealed(owner())
    for layer in car.layers.all():
        end_layer(
            layer=layer, surfaces=layer.surfaces, at=SEPTEMBER, why=EndReason.WORN, by=None, now=SEPTEMBER
        )
    _, (invitation,) = _asked(car)
    assert "by our record nothing protects its paint by now" in _paragraph(invitation)


def test_letter_about_a_promised_look_claims_nothing_of_the_layer() -> None:
    car = sealed(
        owner(), product=ProductClass.COATING_PROFESSIONAL, at=datetime(2025, 10, 20, 9, 0, tzinfo=UTC)
    )
    car.visits.update(promise="Five years, looked at every autumn.", promise_months=60)
    _, (invitation,) = _asked(car)
    paragraph = _paragraph(invitation)
    assert "the look that we promised at hand-over falls due this season, and roads here" in paragraph
    assert "likely" not in paragraph


def test_letter_tells_of_the_screen_where_nothing_that_salt_eats_is_thin() -> None:
    at = datetime(2026, 7, 13, 9, 0, tzinfo=UTC)
    car = sealed(owner(), product=ProductClass.COATING_PROFESSIONAL, at=at)
    for product, surfaces in (
        (ProductClass.RAIN_REPELLENT, surfaces_of(Zone.SCREEN)),
        (ProductClass.WHEEL_COATING, WHEELS),
    ):
        factories.layer(car, factories.product(product), surfaces=surfaces & car.surfaces, at=at)
    season = opened(weeks=1)
    invitation = _invited(car, season)
    assert " rain repellent laid in July is likely to be thin by " in _paragraph(invitation)


def _invited(car: Car, season: WinterRound) -> WinterInvitation:
    """Asked by letter, whatever the plan thinks of it."""
    row = WinterInvitation.objects.create(
        round=season, car=car, person=car.roles.get().person, monday=FIRST_WEEK, work="top_up", hours=3.5, nights=0,
        chance=0.4, asked_at=SEPTEMBER,
    )  # fmt: skip
    queue_invitations(person=row.person, invitations=[row], now=SEPTEMBER)
    return row


def test_one_letter_speaks_of_all_cars_of_an_owner() -> None:
    both = owner("Ada Quill")
    _, invitations = _asked(sealed(both), sealed(both, colour="Red"))
    assert len({row.message_id for row in invitations}) == 1
    text = _text(invitations[0])
    assert text.count("As things stand there is room for it in the week of 14 September.") == 2
    assert "Your red Halden Estate: " in text


def test_letter_leaves_with_the_next_turn(post_office: PostOffice) -> None:
    _, (invitation,) = _asked(sealed(owner("Ada Quill", email="ada@example.com")))
    assert turn(SEPTEMBER).sent == 1
    (mail,) = post_office.taken
    assert mail["To"] == "Ada Quill <ada@example.com>"
    assert mail["Subject"] == "Your blue Halden Estate before winter"
    assert _letter(invitation).state == State.SENT


def _answers(season: WinterRound, row: WinterInvitation) -> None:
    hear_winter_answer(invitation=row, answer=Answer.LATER, by=None, now=SEPTEMBER)


def _closes(season: WinterRound, row: WinterInvitation) -> None:
    close_round(season=season, by=None, now=SEPTEMBER)


def _sets_aside(season: WinterRound, row: WinterInvitation) -> None:
    set_aside(season=season, car=row.car, because="sells it", by=None, now=SEPTEMBER)


def _books(season: WinterRound, row: WinterInvitation) -> None:
    visits.book(car=row.car, branch=season.branch, purpose="wash", at=SEPTEMBER + timedelta(days=3), by=None)


def _sells(season: WinterRound, row: WinterInvitation) -> None:
    Car.objects.filter(pk=row.car_id).update(status=Car.Status.SOLD)


def _takes_back(season: WinterRound, row: WinterInvitation) -> None:
    WinterInvitation.objects.filter(pk=row.pk).update(taken_back_at=SEPTEMBER)


@pytest.mark.parametrize(
    ("happens", "because"),
    [
        (_answers, "its owner has answered already"),
        (_closes, "the winter round is closed"),
        (_sets_aside, "the studio left the car out of the winter round"),
        (_books, "the car is expected on 4 September 2026"),
        (_sells, "the car is sold"),
        (_takes_back, "the invitation was taken back"),
    ],
)
def test_letter_that_is_no_longer_true_does_not_leave(
    happens: Callable[[WinterRound, WinterInvitation], None], because: str, post_office: PostOffice
) -> None:
    season, (invitation,) = _asked(sealed())
    happens(season, invitation)
    turn(SEPTEMBER)
    assert post_office.taken == []
    letter = _letter(invitation)
    assert (letter.state, letter.because) == (State.CANCELLED, because)
    # The invitation is still found by the matter that spoke of it.
    assert Matter.objects.get(message=letter).key == f"winter-call:{invitation.pk}"


def test_letter_for_a_week_that_has_come_does_not_leave(post_office: PostOffice) -> None:
    _, (invitation,) = _asked(sealed())
    letter = _letter(invitation)
    monday = datetime(2026, 9, 14, 9, 0, tzinfo=UTC)
    Message.objects.filter(pk=letter.pk).update(next_try_at=monday, expires_at=monday + timedelta(days=2))
    turn(monday)
    assert _letter(invitation).because == "the week it was asked for has come"
    assert post_office.taken == []


def test_letter_leaves_out_the_car_that_has_answered_and_speaks_of_the_other(post_office: PostOffice) -> None:
    both = owner()
    season, (first, second) = _asked(sealed(both), sealed(both, colour="Red"))
    _answers(season, first)
    assert turn(SEPTEMBER).sent == 1
    (mail,) = post_office.taken
    body = mail.get_body(("plain",))
    assert body is not None
    assert body.get_content().count("As things stand there is room") == 1
    assert _letter(second).state == State.SENT


def test_letter_tells_the_date_as_it_is_when_it_leaves() -> None:
    _, (invitation,) = _asked(sealed())
    invitation.car.forecasts.update(likely=date(2027, 1, 12), high=date(2027, 3, 1))
    turn(SEPTEMBER)
    assert "thin by around January 2027" in _letter(invitation).text


def test_letter_claims_nothing_of_a_layer_of_which_nobody_knows_how_long_it_lasts() -> None:
    _, (invitation,) = _asked(sealed())
    invitation.car.forecasts.update(low=None, likely=None, high=None, due_on=None)
    turn(SEPTEMBER)
    assert _letter(invitation).state == State.SENT
    assert "likely to be thin" not in _letter(invitation).text
    assert "nothing protects" not in _letter(invitation).text


def test_letter_in_html_says_what_the_plain_text_says() -> None:
    _, (invitation,) = _asked(sealed(owner("Ada Quill")))
    html = rendered(_letter(invitation), now=SEPTEMBER, studio=factories.studio()).html
    assert f"<p>{_paragraph(invitation)}</p>" in html
    assert html.count("As things stand there is room for it") == 1


def test_letter_after_the_salt_has_begun_says_so() -> None:
    _, (invitation,) = _asked(sealed())
    december = datetime(2026, 12, 1, 9, 0, tzinfo=UTC)
    assert "is likely to be thin by now, and roads here are being salted." in _paragraph(invitation, december)


def test_letter_that_waited_with_a_prompt_says_it_once() -> None:
    car = sealed(at=APRIL + timedelta(days=60))
    plan_letters(now=SEPTEMBER)
    _, (invitation,) = _asked(car)
    kinds = [matter.kind for matter in _letter(invitation).matters.filter(car=car)]
    assert kinds.count(Message.Kind.WINTER) == 2
    assert _paragraph(invitation).count("roads here are usually salted") == 1
    assert "As things stand there is room for it" in _paragraph(invitation)


def test_letter_about_many_cars_is_looked_at_in_as_many_queries_as_about_one() -> None:
    one, three = owner(), owner()
    _asked(sealed(one), *(sealed(three) for _ in range(3)))
    counts = []
    for person, cars in ((one, 1), (three, 3)):
        letter = Message.objects.select_related("person").get(person=person)
        assert letter.matters.count() == cars
        with CaptureQueriesContext(connection) as asked:
            assert isinstance(verdict(letter, now=SEPTEMBER, studio=factories.studio()), Go)
        counts.append(len(asked))
    assert counts[0] == counts[1]


def test_round_still_knows_that_a_letter_left_without_a_car_whose_sale_was_a_mistake(
    post_office: PostOffice,
) -> None:
    both = owner()
    _, (first, second) = _asked(sealed(both), sealed(both, colour="Red"))
    sale = factories.event(first.car, CarEvent.Kind.SOLD, on=SEPTEMBER.date(), now=SEPTEMBER)
    assert turn(SEPTEMBER).sent == 1
    take_back_event(event=sale, because="wrong car", by=None, now=SEPTEMBER)
    rows = WinterInvitation.objects.select_related("message", "visit").filter(pk__in=(first.pk, second.pk))
    stands = {one.invitation.pk: (one.stands, one.because) for one in asked_of(list(rows), now=SEPTEMBER)}
    assert stands == {first.pk: (Stands.NEVER_LEFT, "the car is sold"), second.pk: (Stands.OPEN, "")}


def test_no_prompt_is_written_by_itself_where_a_round_decides() -> None:
    sealed()
    sealed()
    opened()
    planned = plan_letters(now=SEPTEMBER + timedelta(days=1))
    assert not Message.objects.filter(kind=Message.Kind.WINTER).exists()
    assert planned.letters == Message.objects.count()


def test_prompt_is_written_where_no_round_is_opened_and_dropped_when_one_is() -> None:
    sealed(at=APRIL + timedelta(days=60))
    plan_letters(now=SEPTEMBER)
    letter = Message.objects.get()
    assert letter.kind == Message.Kind.WINTER
    opened()
    turn(SEPTEMBER)
    dropped = letter.matters.exclude(dropped_because="")
    assert set(dropped.values_list("kind", "dropped_because")) == {(Message.Kind.WINTER, ROUND_DECIDES)}


def test_round_of_another_branch_or_winter_decides_nothing_here() -> None:
    sealed(at=APRIL + timedelta(days=60))
    opened(branch=factories.branch("Saltmarsh Lane"))
    last = opened(first=date(2025, 9, 15), now=SEPTEMBER - timedelta(days=350))
    close_round(season=last, by=None, now=SEPTEMBER - timedelta(days=200))
    plan_letters(now=SEPTEMBER)
    assert Message.objects.get().kind == Message.Kind.WINTER


def test_post_says_which_week_a_car_is_asked_for() -> None:
    _, (invitation,) = _asked(sealed())
    (about,) = matters_of(_letter(invitation), studio=factories.studio(), today=SEPTEMBER.date())
    assert about.why == "the winter round asks it in for the week of 14 September: winter coat"


def test_asking_in_person_writes_no_letter() -> None:
    car, season = sealed(), opened()
    how = WinterInvitation.How.TELEPHONE
    ask_in_person(season=season, car=car, monday=FIRST_WEEK, how=how, by=None, now=SEPTEMBER)
    assert not Message.objects.exists()
