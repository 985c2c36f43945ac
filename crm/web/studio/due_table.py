"""The list of cars that are due back, as a table that stacks on a phone."""

from __future__ import annotations

import django_tables2 as tables  # type: ignore[import-untyped]

from crm.selectors.due_rows import DueRow
from crm.web.studio.table_cells import cell


class DueTable(tables.Table):  # type: ignore[misc]
    """A page of cars; it is sorted by the day of the low date alone."""

    car = cell("_due_car.html", "Car and keeper")
    layer = cell("_due_layer.html", "Goes first")
    due = tables.TemplateColumn(
        template_name="studio/_due_window.html",
        verbose_name="Thin from",
        order_by=("due_on",),
        attrs={"td": {"class": "named"}},
    )
    reach = cell("_due_reach.html", "May be written", on_phone="whole")
    salt = cell("_due_salt.html", "On salt", on_phone="named")
    next = cell("_due_next.html", "Next", on_phone="named")

    class Meta:
        template_name = "studio/_table.html"
        empty_text = "No car is due back here. Choose a longer time, or fewer conditions."
        attrs = {"id": "due-cars", "class": "table-cards"}

    def __init__(self, rows: list[DueRow], *, latest_first: bool) -> None:
        super().__init__(rows, order_by="-due" if latest_first else "due")
