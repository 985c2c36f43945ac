"""Calling off what was written down for a day to come: a part at a car, a plate."""

from __future__ import annotations

from django.db import transaction

from crm.models import Plate, Role, User
from crm.services.rights import Right, require
from crm.services.storing import store


@transaction.atomic
def call_off_role(*, role: Role, by: User | None) -> Role:
    """A part that was to begin on a day to come never counts. A keeper who was to make room for it stays.

    The row remains, ending as it begins, so that its history can be read.
    """
    require(by, Right.PEOPLE)
    before = Role.objects.filter(car=role.car_id, part=Role.Part.KEEPER, until=role.since)
    stays = before.exclude(since=role.since).first() if role.part == Role.Part.KEEPER else None
    until, role.until = role.until, role.since
    store(role)
    if stays is not None:
        stays.until = until
        store(stays)
    return role


@transaction.atomic
def call_off_plate(*, plate: Plate, by: User | None) -> Plate:
    """A plate that was to go onto a car on a day to come does not. The one that was to make room for it stays,
    unless another car has been given it.
    """
    require(by, Right.CARS)
    before = Plate.objects.filter(car=plate.car_id, until=plate.since)
    stays = before.exclude(since=plate.since).first()
    until, plate.until = plate.until, plate.since
    store(plate)
    if stays is not None and not Plate.objects.filter(normal=stays.normal, until__isnull=True).exists():
        stays.until = until
        store(stays)
    return plate
