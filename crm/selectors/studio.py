"""The studio's settings as the engine wants them."""

from __future__ import annotations

import json
from datetime import date, datetime
from functools import lru_cache

import structlog

from crm.care.own_figures import sorted_out
from crm.care.seasons import MonthDay, Season, Seasons
from crm.care.tables import DEFAULTS, Tables
from crm.models import Studio

log = structlog.get_logger(__name__)


class StudioMissing(Exception):
    """There is no studio yet."""

    def __init__(self) -> None:
        super().__init__("There is no studio yet. Start it with: python3 manage.py studio")


def the_studio() -> Studio:
    """The one row of settings. Raises StudioMissing."""
    studio = Studio.objects.first()
    if studio is None:
        raise StudioMissing
    return studio


def seasons_of(studio: Studio) -> Seasons:
    """The salted and the hot season by the studio's own dates."""
    return Seasons(
        salt=Season(MonthDay.parse(studio.salt_from), MonthDay.parse(studio.salt_until)),
        hot=Season(MonthDay.parse(studio.hot_from), MonthDay.parse(studio.hot_until)),
    )


def tables_of(studio: Studio) -> Tables:
    """The engine's default numbers with the studio's own changes, as far as this version has a place for them."""
    if not studio.engine_overrides:
        return DEFAULTS
    return _tables(json.dumps(studio.engine_overrides, sort_keys=True))


@lru_cache(maxsize=8)
def _tables(overrides: str) -> Tables:
    own = sorted_out(json.loads(overrides))
    if own.unused:
        log.warning("own_figures_not_used", figures=[".".join(figure.path) for figure in own.unused])
    return DEFAULTS.with_overrides(own.used)


def local_day(studio: Studio, moment: datetime) -> date:
    """The day it is in the studio at a moment."""
    return moment.astimezone(studio.zone).date()
