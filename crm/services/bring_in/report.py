"""The report: row by row what is understood, guessed and refused, and what it comes to."""

from __future__ import annotations

from collections.abc import Iterator

from crm.care.bodies import Body
from crm.care.terms import ProductClass
from crm.care.words import CLASS_NAMES, PROCESS_NAMES, describe
from crm.services.bring_in.cells import Sure
from crm.services.bring_in.rows import Row
from crm.services.bring_in.saving import Outcome, plate_words

WORDS = {Sure.UNDERSTOOD: "understood", Sure.GUESSED: "guessed", Sure.REFUSED: "refused"}


def report(outcome: Outcome) -> Iterator[str]:
    """Lines to print or to write to a file."""
    columns = ", ".join(
        f"{heading} = {column.value.replace('_', ' ')}" for column, heading in outcome.headings.items()
    )
    yield f"Columns: {columns}."
    if outcome.kept_as_notes:
        yield f"Kept as notes: {', '.join(outcome.kept_as_notes)}."
    yield ""
    for row in outcome.rows:
        yield from _row(row)
    yield ""
    yield from _summary(outcome)


def _row(row: Row) -> Iterator[str]:
    day = f"{row.on:%-d %b %Y}" if row.on else "no date"
    who = row.owners[0] if row.owners else ""
    yield f"row {row.number}: {WORDS[row.sure]}  {day}  {plate_words(row)}  {who}".rstrip()
    if row.refused:
        yield f"    refused: {row.refused}"
        return
    for step in row.work.steps:
        yield f"    {PROCESS_NAMES[step.process]}: {describe(step.surfaces, Body(row.car.body))}"
    for layer in row.work.layers:
        name = layer.product or CLASS_NAMES[ProductClass(layer.product_class)]
        coats = f", {layer.coats} coats" if layer.coats > 1 else ""
        yield f"    {name}{coats}: {describe(layer.surfaces, Body(row.car.body))}"
    for remark in row.all_remarks:
        yield f"    {'guessed: ' if remark.sure is Sure.GUESSED else ''}{remark.words}"


def _summary(outcome: Outcome) -> Iterator[str]:
    counts = {sure: sum(row.sure is sure for row in outcome.rows) for sure in Sure}
    yield f"{len(outcome.rows)} rows: " + ", ".join(f"{counts[sure]} {WORDS[sure]}" for sure in Sure) + "."
    made = (
        ", ".join(f"{number} {what}" for what, number in sorted(outcome.made.items()) if number)
        or "nothing new"
    )
    if outcome.committed:
        yield f"Saved: {made}."
    else:
        yield f"Would save: {made}. Nothing was saved; add --commit to save it."
