"""No column is indexed twice: every index costs a write, and one that another begins with is never needed."""

from __future__ import annotations

import pytest
from django.apps import apps
from django.db.models import Model, UniqueConstraint

OWN = list(apps.get_app_config("crm").get_models())


def _leading(model: type[Model]) -> dict[str, str]:
    """The first column of every index and unique constraint that holds for all rows, with its name."""
    indexes = {
        index.fields_orders[0][0]: index.name
        for index in model._meta.indexes
        if index.fields_orders and not index.condition
    }
    unique = {
        constraint.fields[0]: constraint.name
        for constraint in model._meta.constraints
        if isinstance(constraint, UniqueConstraint) and constraint.fields and not constraint.condition
    }
    return indexes | unique


@pytest.mark.parametrize("model", OWN, ids=lambda model: model.__name__)
def test_reference_that_an_index_begins_with_has_none_of_its_own(model: type[Model]) -> None:
    leading = _leading(model)
    twice = {
        field.name: leading[field.name]
        for field in model._meta.local_fields
        if field.many_to_one and vars(field)["db_index"] and field.name in leading
    }
    assert twice == {}


@pytest.mark.parametrize("model", OWN, ids=lambda model: model.__name__)
def test_reference_without_an_index_of_its_own_leads_another(model: type[Model]) -> None:
    """Deleting a row looks for those that refer to it: without any index that reads a whole table."""
    bare = [
        field.name
        for field in model._meta.local_fields
        if field.many_to_one and not vars(field)["db_index"] and field.name not in _leading(model)
    ]
    assert bare == []
