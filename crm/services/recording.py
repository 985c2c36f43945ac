"""What every fact of the bench has in common: the visit takes it, the time can be, the surfaces are the car's."""

from __future__ import annotations

from datetime import datetime

from crm.care.surfaces import NOTHING, Surfaces
from crm.models import Visit
from crm.selectors.studio import local_day, the_studio
from crm.services.errors import Refused

OPEN = (Visit.State.IN_BAY, Visit.State.READY, Visit.State.HANDED_OVER)
"""Facts are added to a visit that is over as well: they are marked as entered later."""


def check_open(visit: Visit, at: datetime, now: datetime) -> None:
    """Raise Refused where the visit takes no facts, or the time cannot be."""
    if visit.state not in OPEN:
        raise Refused("Take the car in first: it is not in the bay yet.")
    if at > now:
        raise Refused("That time has not come yet.", field="at")
    if visit.arrived_at and at < visit.arrived_at:
        # Any time of the day it came in will do, by the clock of the studio.
        studio = the_studio()
        came = local_day(studio, visit.arrived_at)
        if local_day(studio, at) < came:
            raise Refused(f"The car only came in on {came:%-d %B %Y}.", field="at")


def on_this_car(visit: Visit, surfaces: Surfaces) -> Surfaces:
    """Those of the surfaces that the car has. Raises Refused where that is none."""
    on = surfaces & visit.car.surfaces
    if on == NOTHING:
        raise Refused("Choose at least one surface that this car has.", field="surfaces")
    return on
