"""Who works at Greywater Yard, and the settings of the studio."""

from __future__ import annotations

from dataclasses import dataclass

from crm.models import Branch, Rank, Studio, User
from crm.selectors.studio import the_studio
from crm.services.opening import FirstDay, open_studio
from crm.services.storing import store

PASSWORD = "slate and salt 417"  # noqa: S105 - printed on every start of the demo, and good for nothing else


@dataclass(frozen=True)
class SignIn:
    """Somebody who signs in to the demo studio."""

    name: str
    rank: Rank
    first: str
    last: str
    initials: str


SIGN_INS = (
    SignIn("merryn", Rank.MANAGER, "Merryn", "Stroud-Vane", "MS"),
    SignIn("tolan", Rank.LEAD, "Tolan", "Pengarth", "TP"),
    SignIn("isla", Rank.BENCH, "Isla", "Wrack", "IW"),
    SignIn("noor", Rank.DESK, "Noor", "Hallam-Skye", "NH"),
)


@dataclass(frozen=True)
class Crew:
    """The studio and its people, as the stories need them."""

    studio: Studio
    branch: Branch
    manager: User
    lead: User
    bench: User
    desk: User


def open_demo_studio() -> Crew:
    """Open the studio on its first day and give everybody an account."""
    boss = SIGN_INS[0]
    manager = open_studio(
        first_day=FirstDay(
            studio="Greywater Yard", time_zone="Europe/London", sign_in=boss.name, password=PASSWORD
        )
    )
    studio = the_studio()
    studio.postal_address = "2 Slipway Lane, Skerrin"
    studio.phone = "01632 960417"
    studio.reply_to = "yard@example.org"
    studio.signature = "Merryn at Greywater Yard"
    store(studio)
    branch = Branch.objects.get(name=studio.name)
    branch.town = "Skerrin"
    store(branch)
    people = {sign_in.rank: _account(sign_in, branch, manager) for sign_in in SIGN_INS}
    return Crew(
        studio, branch, people[Rank.MANAGER], people[Rank.LEAD], people[Rank.BENCH], people[Rank.DESK]
    )


def _account(sign_in: SignIn, branch: Branch, manager: User) -> User:
    user = manager if sign_in.rank is Rank.MANAGER else User(username=sign_in.name, rank=sign_in.rank)
    # One password for all four is hashed once: hashing is slow on purpose.
    user.password = manager.password
    user.first_name, user.last_name = sign_in.first, sign_in.last
    user.initials, user.branch = sign_in.initials, branch
    store(user)
    return user
