"""The reasons for which a car is not asked, as headings, and what a person may still do about each."""

from __future__ import annotations

from crm.care.winter_calls import Why

WHY_NAMES = {
    Why.NO_ROOM: "no room left",
    Why.SET_ASIDE: "left out by the studio",
    Why.LATER: "said later",
    Why.NO_ANSWER: "asked, no answer came",
    Why.NO_THANKS: "said no thanks",
    Why.NOT_REACHABLE: "no letter may reach its owner",
    Why.NO_OWNER: "nobody is written down as its keeper",
    Why.COMPLAINT: "a complaint is open",
    Why.PAUSED: "letters are paused",
    Why.OPTED_OUT: "its owner wants no invitations",
    Why.UNPAID: "a bill is still to be settled",
    Why.TOO_FAR: "its owner lives too far away",
    Why.BOOKED: "booked in already",
    Why.SEEN: "was here lately",
    Why.HOLDS: "holds until the salt is over",
    Why.LITTLE_USE: "a visit would avoid too little",
    Why.NO_SALT: "not driven on salted roads",
    Why.STORED: "in storage",
    Why.FORGOTTEN: "not here for years",
    Why.SOLD: "sold",
    Why.SCRAPPED: "scrapped or abroad",
    Why.STOLEN: "stolen",
    Why.DIED: "its owner has died",
}
"""In the order in which somebody who looks for work would read them."""

GONE = frozenset({Why.SOLD, Why.SCRAPPED, Why.STOLEN, Why.DIED})
"""There is nobody to ask about the car, in person or otherwise."""
NOT_IN_PERSON = GONE | {Why.NO_OWNER, Why.BOOKED}
"""Nobody is asked, also not by telephone: there is nobody, or the car comes anyway."""
