"""A sheet to print: the coated estate of the demo studio, with waits, a plan and a promise."""

from __future__ import annotations

from datetime import UTC, date, datetime

from crm.papers.sheet import Advice, AdviceLine, LaidLine, SheetContent, WashVisit

MADE_AT = datetime(2026, 5, 4, 14, 10, tzinfo=UTC)

CONTENT = SheetContent(
    studio_name="Greywater Yard",
    studio_address="2 Slipway Lane, Skerrin",
    studio_phone="+447700900100",
    time_zone="Europe/London",
    paper="A4",
    car_words="blue Halden Estate",
    plate="QA26 DEM",
    keeper_name="Cerys Harrow",
    handed_over_at=MADE_AT,
    layers=(
        LaidLine(
            product="Fulmar two-year coating",
            kind="coating, professional",
            where="all painted panels except left rear wing",
            until="until around February 2027",
        ),
        LaidLine(product="Petrel glass coating", kind="coating for glass", where="windscreen", until=""),
    ),
    advice=Advice(
        text_version="1",
        headlines=("Coated.", "No washing yet.", "Two buckets, your own mitt."),
        donts=(
            AdviceLine(
                code="no_wash",
                words="No washing, no jets.",
                why="the layer is still hardening",
                until=datetime(2026, 5, 11, 14, 10, tzinfo=UTC),
            ),
            AdviceLine(
                code="keep_dry",
                words="Keep it dry, under a roof if you can.",
                why="drying drops leave rings",
                until=datetime(2026, 5, 5, 14, 10, tzinfo=UTC),
            ),
            AdviceLine(code="no_wax", words="No wax, ever.", why="it hides how the coating works"),
        ),
        care=(AdviceLine(code="leaves", words="Empty the leaves below the screen."),),
        safety=(
            AdviceLine(code="brakes", words="After washing press the brakes lightly until they bite."),
            AdviceLine(code="never_mix", words="Never mix cleaners: acid and bleach give off chlorine."),
        ),
    ),
    wash_visits=(
        WashVisit(on=date(2026, 8, 31), words="maintenance wash"),
        WashVisit(on=date(2027, 2, 28), words="maintenance wash"),
    ),
    promise="24 months water-shedding with two checks a year; not stone, brush or bird damage.",
    promise_months=24,
    signature="Ada Quill",
)
