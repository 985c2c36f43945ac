"""The cars that a week would ask, as a table whose rows are blocks on a phone."""

from __future__ import annotations

from collections.abc import Sequence

import django_tables2 as tables  # type: ignore[import-untyped]

from crm.selectors.winter_week import Proposed
from crm.web.studio.table_cells import cell


class ProposedTable(tables.Table):  # type: ignore[misc]
    """In the order in which the plan would ask them."""

    car = cell("_winter_car.html", "Car and keeper")
    why = cell("_winter_why.html", "Why", on_phone="whole")
    work = cell("_winter_work.html", "What for", on_phone="whole")
    chance = cell("_winter_chance.html", "Likely comes", on_phone="named")
    acts = cell("_winter_acts.html", "Instead", on_phone="whole")

    class Meta:
        template_name = "studio/_table.html"
        attrs = {"class": "table-cards"}
        sequence = ("car", "why", "work", "chance", "acts")

    def __init__(self, rows: Sequence[Proposed], *, name: str, may_change: bool) -> None:
        super().__init__(
            rows, exclude=() if may_change else ("acts",), attrs={"id": name, "class": "table-cards"}
        )
