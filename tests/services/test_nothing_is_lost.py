"""Deleting a row never takes history with it, and a car stands in the bay once at a time."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest
from django.apps import apps
from django.db import IntegrityError, models, transaction
from django.db.models.deletion import CASCADE, SET_NULL, ProtectedError

from crm.models import Rank, Visit
from crm.services.bring_in.saving import Order, bring_in
from crm.services.errors import Refused
from crm.services.visits import Arrival, arrive, book
from tests import factories
from tests.factories import NOW

pytestmark = pytest.mark.django_db

GOES_WITH_IT = {
    "FindKey.car",
    "FindKey.person",
    "Forecast.car",
    "Forecast.layer",
    "WinterLeftOut.car",
    "WinterLeftOut.round",
    "WinterProposal.car",
    "WinterProposal.round",
}
"""What is worked out from the row it belongs to, and can be worked out again."""
LET_GO = {"Message.contact", "Once.by"}
"""What stands by itself: a message keeps the address it went to."""


def _relations(on_delete: object) -> set[str]:
    return {
        f"{model.__name__}.{field.name}"
        for model in apps.get_app_config("crm").get_models()
        for field in model._meta.concrete_fields
        if isinstance(field, models.ForeignKey)
        and field.remote_field.on_delete is on_delete
        and not model.__name__.startswith("Historical")
    }


def test_only_what_can_be_worked_out_again_goes_with_its_row() -> None:
    assert _relations(CASCADE) == GOES_WITH_IT
    assert _relations(SET_NULL) == LET_GO


def test_car_with_a_history_is_not_deleted() -> None:
    layer = factories.layer(factories.car())
    keeper = layer.car.roles.get().person
    for row in (layer.car, keeper, layer.visit, layer.product):
        assert row is not None
        with pytest.raises(ProtectedError):
            row.delete()


def test_car_stands_in_the_bay_once_at_a_time() -> None:
    car, by = factories.car(), factories.user(Rank.BENCH)
    factories.visit(car, state=Visit.State.READY, at=NOW - timedelta(hours=5))
    second = book(car=car, branch=factories.branch(), purpose=Visit.Purpose.WASH, at=NOW, by=by)
    with pytest.raises(Refused, match="in the bay already"):
        arrive(visit=second, arrival=Arrival(at=NOW), by=by)
    second.refresh_from_db()
    assert second.state == Visit.State.BOOKED
    with pytest.raises(IntegrityError), transaction.atomic():
        Visit.objects.filter(pk=second.pk).update(state=Visit.State.IN_BAY, arrived_at=NOW)


def test_old_stay_is_brought_in_while_the_car_stands_in_the_bay(tmp_path: Path) -> None:
    car = factories.car("QA26 DEM")
    here = factories.visit(car, at=NOW - timedelta(hours=2))
    listed = tmp_path / "list.csv"
    listed.write_text("plate,date,work\nQA26 DEM,2024-03-11,wash\n", encoding="utf-8")
    outcome = bring_in(Order(path=listed, commit=True, now=NOW))
    assert [row.refused for row in outcome.rows] == [""]
    states = Visit.objects.filter(car=car).order_by("planned_in").values_list("state", flat=True)
    assert list(states) == [Visit.State.HANDED_OVER, Visit.State.IN_BAY]
    here.refresh_from_db()
    assert here.handed_over_at is None
