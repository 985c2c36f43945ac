"""The coat chart. Places on it are checked against plain arithmetic on the days; conventions are our own."""

from __future__ import annotations

from datetime import date, timedelta
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from crm.care.chart import (
    FADE,
    Band,
    Chart,
    ChartError,
    GradeDot,
    Span,
    VisitPost,
    coat_chart,
    two_years,
    whole_record,
)
from crm.care.chart_lanes import BandMark
from crm.care.chart_scale import DESK, PAPER, PHONE, Sheet
from crm.care.forecast import Window
from crm.care.seasons import SALT, MonthDay, Season
from crm.care.surfaces import Zone
from crm.care.terms import Condition

TODAY = date(2026, 10, 6)
YEAR = Span(date(2026, 1, 1), date(2026, 12, 31))
WINDOW = Window(date(2026, 7, 1), date(2026, 8, 1), date(2026, 9, 1))


def _band(
    zone: Zone = Zone.TOPS,
    laid: date = date(2026, 5, 4),
    set_on: date | None = date(2026, 5, 18),
    window: Window | None = WINDOW,
    ended: date | None = None,
    name: str = "Gannet paint sealant",
) -> Band:
    return Band(zone, name, "bonnet and roof", laid, set_on, window, ended, "polished off" if ended else "")


def _chart(
    *bands: Band, posts: tuple[VisitPost, ...] = (), dots: tuple[GradeDot, ...] = (), span: Span = YEAR
) -> Chart:
    return coat_chart(bands=bands, posts=posts, dots=dots, today=TODAY, span=span, salt=SALT)


def _mark(band: Band, span: Span = YEAR) -> BandMark:
    return _chart(band, span=span).desk.lanes[0].bands[0]


def _x(day: date, span: Span = YEAR) -> float:
    """Where a day stands on the desk sheet: 810 units for the days of the span, right of a gutter of 150."""
    return round(150 + (day - span.first).days / ((span.last - span.first).days + 1) * 810, 2)


def test_band_is_striped_then_solid_then_fading_then_overdue_without_gaps() -> None:
    mark = _mark(_band())
    parts = [mark.setting, mark.solid, mark.fade, mark.overdue]
    edges = [date(2026, 5, 4), date(2026, 5, 18), date(2026, 7, 1), date(2026, 9, 1), date(2026, 10, 7)]
    for part, (start, end) in zip(parts, pairwise(edges), strict=True):
        assert part is not None
        assert part.x == _x(start)
        assert part.x + part.width == pytest.approx(_x(end), abs=0.02)
    assert mark.notch_x == _x(date(2026, 8, 1))
    assert mark.hollow is None
    assert mark.end_x is None


def test_ending_cuts_every_part_and_leaves_a_hollow_stub() -> None:
    mark = _mark(_band(ended=date(2026, 7, 15)))
    assert mark.end_x == _x(date(2026, 7, 15))
    assert mark.hollow is not None
    assert (mark.hollow.x, mark.hollow.width) == (mark.end_x, 2 * DESK.bar)
    assert mark.fade is not None
    assert mark.fade.x + mark.fade.width == pytest.approx(_x(date(2026, 9, 1)), abs=0.02)
    assert mark.fade_seen is not None
    assert mark.fade_seen.x + mark.fade_seen.width == pytest.approx(mark.end_x, abs=0.02)
    assert mark.notch_x is None
    assert mark.overdue is None


def test_layer_ended_before_its_window_never_fades() -> None:
    mark = _mark(_band(ended=date(2026, 6, 1)))
    assert mark.fade is None
    assert mark.fade_seen is None
    assert mark.solid is not None
    assert mark.solid.x + mark.solid.width == pytest.approx(_x(date(2026, 6, 1)), abs=0.02)


def test_layer_without_a_forecast_is_solid_up_to_today() -> None:
    mark = _mark(_band(window=None, set_on=None))
    assert mark.setting is None
    assert mark.fade is None
    assert mark.overdue is None
    assert mark.solid is not None
    assert mark.solid.x + mark.solid.width == pytest.approx(_x(TODAY + timedelta(days=1)), abs=0.02)


def test_cure_of_a_day_can_still_be_seen() -> None:
    setting = _mark(_band(set_on=date(2026, 5, 5))).setting
    assert setting is not None
    assert setting.width == 5


@pytest.mark.parametrize(
    ("today", "condition"),
    [
        (date(2026, 5, 17), Condition.SETTING),
        (date(2026, 5, 18), Condition.HOLDING),
        (date(2026, 6, 30), Condition.HOLDING),
        (date(2026, 7, 1), Condition.THINNING),
        (date(2026, 9, 1), Condition.THINNING),
        (date(2026, 9, 2), Condition.DUE_A_LOOK),
    ],
)
def test_condition_follows_the_dates(today: date, condition: Condition) -> None:
    assert _band().condition(today) == condition


def test_condition_is_ended_from_the_day_of_the_ending() -> None:
    band = _band(ended=date(2026, 8, 1))
    assert band.condition(date(2026, 7, 31)) == Condition.THINNING
    assert band.condition(date(2026, 8, 1)) == Condition.ENDED


def test_sentence_says_all_that_the_band_shows() -> None:
    said = _band(ended=date(2026, 8, 1)).sentence(TODAY)
    assert said.startswith(
        "Gannet paint sealant on bonnet and roof; laid 4 May 2026; set 18 May 2026; likely "
    )
    assert said.endswith("; ended 1 Aug 2026: polished off")


def test_bands_that_meet_in_time_are_stacked_and_others_share_a_row() -> None:
    first = _band(laid=date(2026, 1, 5), set_on=None, window=None, ended=date(2026, 2, 1))
    second = _band(laid=date(2026, 1, 20), set_on=None, window=None, ended=date(2026, 3, 1))
    third = _band(laid=date(2026, 9, 1), set_on=None, window=None)
    one, two, three = _chart(first, second, third).desk.lanes[0].bands
    assert two.y > one.y + one.height
    assert three.y == one.y


def test_lanes_follow_each_other_in_zone_order_and_only_where_there_is_something() -> None:
    dot = GradeDot(Zone.SCREEN, date(2026, 5, 3), 3, decontaminated=True)
    lanes = _chart(_band(Zone.WHEELS), _band(Zone.TOPS), dots=(dot,)).desk.lanes
    assert [lane.zone for lane in lanes] == [Zone.TOPS, Zone.WHEELS, Zone.SCREEN]
    for upper, lower in pairwise(lanes):
        assert lower.y == pytest.approx(upper.y + upper.height, abs=0.02)


def test_only_a_decontaminated_grade_shows_its_number() -> None:
    day = date(2026, 5, 3)
    dots = (
        GradeDot(Zone.TOPS, day, 0, decontaminated=False),
        GradeDot(Zone.TOPS, day, 1, decontaminated=True),
    )
    dirty, clean = _chart(dots=dots).desk.lanes[0].dots
    assert (dirty.label, clean.label) == ("", "1")
    assert dirty.title == "water grade 0 on 3 May 2026, before decontamination: not proof"
    assert clean.x - dirty.x > 2 * dirty.radius


def test_panels_graded_alike_on_a_day_are_one_dot() -> None:
    """A lane of many panels must not push its grades into months that have not come."""
    day = date(2026, 5, 3)
    dots = [GradeDot(Zone.TOPS, day, grade, decontaminated=True) for grade in (2, 2, 1, 2)]
    assert [dot.label for dot in _chart(dots=tuple(dots)).desk.lanes[0].dots] == ["2", "1"]


def test_salted_months_are_shaded_on_both_sides_of_the_new_year() -> None:
    strips = _chart(_band()).desk.salt
    edges = [edge for x, width in strips for edge in (x, x + width)]
    months = [date(2026, 1, 1), date(2026, 4, 1), date(2026, 11, 1), date(2027, 1, 1)]
    assert edges == pytest.approx([_x(day) for day in months], abs=0.02)


def test_southern_salt_is_one_strip() -> None:
    southern = Season(MonthDay(6, 1), MonthDay(8, 31))
    chart = coat_chart(bands=[_band()], posts=[], dots=[], today=TODAY, span=YEAR, salt=southern)
    assert [x for x, _ in chart.desk.salt] == [_x(date(2026, 6, 1))]


def test_posts_and_today_outside_the_span_are_left_out() -> None:
    posts = (VisitPost(date(2026, 5, 3), "correction"), VisitPost(date(2024, 5, 3), "wash"))
    chart = _chart(posts=posts, span=Span(date(2026, 4, 1), date(2026, 6, 30)))
    assert [post.title for post in chart.desk.posts] == ["3 May 2026: correction"]
    assert chart.desk.today_x is None


def test_two_years_are_whole_months_around_today() -> None:
    assert two_years(TODAY) == Span(date(2025, 10, 1), date(2027, 10, 31))


def test_whole_record_reaches_from_first_layer_to_last_forecast() -> None:
    old = _band(laid=date(2019, 2, 14), ended=date(2020, 1, 1))
    new = _band(window=Window(date(2028, 1, 1), date(2029, 1, 1), date(2030, 6, 3)))
    assert whole_record([old, new], [], [], today=TODAY) == Span(date(2019, 2, 1), date(2030, 6, 30))
    assert whole_record([], [], [], today=TODAY) == two_years(TODAY)


@pytest.mark.parametrize("sheet", [DESK, PHONE, PAPER], ids=lambda sheet: sheet.name)
@pytest.mark.parametrize("years", [1, 2, 6, 25, 70])
def test_axis_names_never_run_into_each_other(sheet: Sheet, years: int) -> None:
    span = Span(date(2001, 3, 1), date(2001 + years, 3, 31))
    named = [tick for tick in _chart(_band(), span=span).drawn_on(sheet).ticks if tick.label]
    assert len(named) > 1
    for tick, following in pairwise(named):
        assert tick.x + sheet.wide(tick.label) <= following.x
    assert named[-1].x + sheet.wide(named[-1].label) <= sheet.width


def test_fade_runs_from_full_to_faint_in_equal_slices() -> None:
    assert len(FADE) == 24
    assert (FADE[0].opacity, FADE[-1].opacity) == (1, 0.1)
    assert sum(step.width for step in FADE) == pytest.approx(1, abs=0.01)
    assert all(later.opacity < earlier.opacity for earlier, later in pairwise(FADE))


def test_impossible_facts_are_refused_with_a_sentence() -> None:
    with pytest.raises(ChartError, match="set before it was laid"):
        _band(set_on=date(2026, 5, 1))
    with pytest.raises(ChartError, match="ended before it was laid"):
        _band(ended=date(2026, 5, 1))
    with pytest.raises(ChartError, match="at least two days"):
        Span(TODAY, TODAY)


def test_empty_chart_has_no_lanes_and_says_so() -> None:
    chart = _chart()
    assert chart.desk.lanes == ()
    assert chart.summary == "1 Jan 2026 to 31 Dec 2026: no bands in no lanes, no visits, no water grades."


_DAYS = st.dates(date(2000, 1, 1), date(2060, 12, 31))


@st.composite
def _bands(draw: st.DrawFn) -> Band:
    laid = draw(_DAYS)
    after = sorted(draw(st.lists(st.integers(0, 4000), min_size=4, max_size=4)))
    set_on, low, likely, high = (laid + timedelta(days=days) for days in after)
    ended = draw(st.none() | st.integers(0, 5000).map(lambda days: laid + timedelta(days=days)))
    window = Window(low, likely, high) if draw(st.booleans()) else None
    name = draw(st.sampled_from(["Auk wax", "Fulmar two-year coating", "A name much too long " * 6]))
    zone = draw(st.sampled_from([Zone.TOPS, Zone.WHEELS_TWO]))
    return Band(zone, name, "", laid, draw(st.sampled_from([None, set_on])), window, ended, "")


@settings(max_examples=80, deadline=None)
@given(st.lists(_bands(), max_size=7), _DAYS, st.sampled_from([DESK, PHONE, PAPER]), st.booleans())
def test_bands_of_a_lane_never_cover_each_other(
    bands: list[Band], today: date, sheet: Sheet, everything: bool
) -> None:
    span = whole_record(bands, [], [], today=today) if everything else two_years(today)
    drawing = coat_chart(bands=bands, posts=[], dots=[], today=today, span=span, salt=SALT).drawn_on(sheet)
    for lane in drawing.lanes:
        rows: dict[float, list[BandMark]] = {}
        for mark in lane.bands:
            assert lane.y < mark.y < mark.y + mark.height < lane.y + lane.height <= drawing.height
            assert mark.label_x >= sheet.gutter
            rows.setdefault(mark.y, []).append(mark)
        for marks in rows.values():
            for first, second in pairwise(sorted(marks, key=lambda mark: mark.left)):
                assert first.right(sheet) <= second.left
