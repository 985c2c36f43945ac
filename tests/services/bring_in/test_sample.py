"""The sample list of the studio from the first line to the last: over three hundred rows as a studio keeps them."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest

from crm.care.surfaces import NOTHING
from crm.care.terms import ProductClass
from crm.models import Car, Consent, Layer, Message, Person, Plate, Product, Step, Visit
from crm.services.bring_in import Order, bring_in, report
from tests import factories

SAMPLE = Path(__file__).with_name("skerrin_list.csv")
NOW = datetime(2026, 11, 25, 10, 30, tzinfo=UTC)
MADE = {"cars": 96, "people": 83, "visits": 339, "layers": 466, "products": 16, "processes": 197}
REFUSED = {
    24: "“31/2/25” is not a day that exists.",
    46: "14 March 2031 has not come yet.",
    68: "there is no date.",
    91: "“sometime in spring” is not a date.",
    114: "Nothing says which car this is: there is no plate, no chassis number, and no car with an owner.",
    136: "Nothing says which car this is: there is no plate, no chassis number, and no car with an owner.",
    159: "“QA26 DEMOLITION X” is not a plate.",
    226: "15 June 1066 is before 1970.",
}


@pytest.mark.unmeasured
@pytest.mark.django_db
def test_sample_list_is_brought_in_as_the_report_says_and_once() -> None:
    factories.branch()
    for kind, name in (
        (ProductClass.POLYMER_SEALANT, "Gannet paint sealant"),
        (ProductClass.DURABLE_WAX, "Dunlin winter wax"),
        (ProductClass.COATING_PROFESSIONAL, "Fulmar two-year coating"),
    ):
        factories.product(kind, name)
    found = bring_in(Order(path=SAMPLE, commit=True, now=NOW))
    assert list(report(found))[-2:] == [
        "347 rows: 161 understood, 178 guessed, 8 refused.",
        "Saved: 96 cars, 466 layers, 83 people, 197 processes, 16 products, 339 visits.",
    ]
    assert dict(found.made) == MADE
    assert {row.number: row.refused for row in found.rows if row.refused} == REFUSED
    held = {
        "cars": Car.objects.count(),
        "people": Person.objects.count(),
        "visits": Visit.objects.count(),
        "layers": Layer.objects.count(),
        "products": Product.objects.count() - 3,
        "processes": Step.objects.count(),
    }
    assert held == MADE
    assert Message.objects.count() == 0
    assert Visit.objects.exclude(state=Visit.State.HANDED_OVER).count() == 0
    assert not Layer.objects.filter(surfaces=NOTHING).exists()
    assert Plate.objects.filter(mark__startswith="Q").count() == Plate.objects.count()
    assert Consent.objects.exists()

    again = bring_in(Order(path=SAMPLE, commit=True, now=NOW))
    assert dict(again.made) == {"rows known already": 339}
    assert (Car.objects.count(), Visit.objects.count(), Layer.objects.count()) == (96, 339, 466)
