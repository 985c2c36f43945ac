"""Aftercare sheets for particular cars; trade rules are common practice, no source."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from crm.care.advice import (
    TEXT_VERSION,
    Circumstances,
    Dont,
    ForecastDayError,
    Line,
    NaiveTimeError,
    OnCar,
    Rank,
    Setting,
    Sheet,
    Telling,
    compose,
    day_words,
    moment_words,
    washing_line,
)
from crm.care.seasons import SALT
from crm.care.surfaces import Zone
from crm.care.terms import Circumstance, Paint, Process, ProductClass, Wash

LONDON = ZoneInfo("Europe/London")
LAID = datetime(2026, 5, 4, 15, 10, tzinfo=LONDON)
PANEL_ZONES = (Zone.TOPS, Zone.FRONT, Zone.UPPER_SIDES, Zone.LOWER_SIDES)


def laid(
    product_class: ProductClass, zone: Zone, name: str, *, dry: int = 24, wash: int = 168, cure: int = 504
) -> Setting:
    """A layer laid on 4 May at 15:10, with waits in hours."""
    drive, dry_until, wash_from, full = (LAID + timedelta(hours=count) for count in (4, dry, wash, cure))
    return Setting(product_class, zone, name, LAID, drive, dry_until, wash_from, full, full)


def live(layers: list[Setting], until: str = "until around December next year") -> list[OnCar]:
    return [OnCar(each.product_class, each.zone, each.name, until) for each in layers]


COATED = [laid(ProductClass.COATING_PROFESSIONAL, zone, "Fulmar coating") for zone in PANEL_ZONES]


def sheet_for(
    fresh: list[Setting] | None = None,
    *flags: Circumstance,
    layers: list[OnCar] | None = None,
    now: datetime = LAID,
    paint: Paint = Paint.CLEAR_OVER_BASE,
    summer: Wash | None = None,
    winter: Wash | None = None,
    salted: bool | None = None,
    processes: tuple[Process, ...] = (),
) -> Sheet:
    fresh = COATED if fresh is None else fresh
    return compose(
        layers=live(fresh) if layers is None else layers,
        fresh=fresh,
        circumstances=Circumstances(frozenset(flags), summer, winter, paint, salted),
        today=now.date(),
        now=now,
        salt=SALT,
        processes=processes,
    )


def codes(sheet: Sheet) -> set[str]:
    return {line.code for line in (*sheet.first, *sheet.care)}


def words_of(sheet: Sheet, code: str) -> str:
    return next(line.words for line in (*sheet.first, *sheet.care, *sheet.safety) if line.code == code)


def test_compose_gives_three_lines_first() -> None:
    sheet = sheet_for(summer=Wash.HAND_NEUTRAL)
    assert sheet.version == TEXT_VERSION
    on_car, not_yet, washing = sheet.first
    assert on_car.words == "Fulmar coating on the painted panels, until around December next year."
    assert not_yet.until == datetime(2026, 5, 11, 14, 10, tzinfo=UTC)
    assert not_yet.words.startswith("No washing, jets or car wash of any kind.")
    assert washing.code == "wash_by_hand_at_home"
    assert washing.words.startswith("After the no-wash time: two buckets")


def test_compose_gives_every_wait_its_own_end() -> None:
    ends = {dont.code: dont.until for dont in sheet_for().donts}
    assert ends["keep_dry"] == datetime(2026, 5, 5, 14, 10, tzinfo=UTC)
    assert ends["no_wash"] == datetime(2026, 5, 11, 14, 10, tzinfo=UTC)
    assert ends["no_cover"] == datetime(2026, 5, 25, 14, 10, tzinfo=UTC)


def test_compose_takes_the_latest_of_several_layers() -> None:
    slow = laid(ProductClass.TRIM_COATING, Zone.TRIM, "Curlew trim coating", wash=240)
    ends = {dont.code: dont.until for dont in sheet_for([*COATED, slow]).donts}
    assert ends["no_wash"] == datetime(2026, 5, 14, 14, 10, tzinfo=UTC)


def test_compose_drops_a_wait_once_it_has_passed() -> None:
    assert "keep_dry" in {dont.code for dont in sheet_for(now=LAID + timedelta(hours=23)).donts}
    assert "keep_dry" not in {dont.code for dont in sheet_for(now=LAID + timedelta(hours=24)).donts}
    sheet = sheet_for()
    assert sheet.still_open(LAID + timedelta(hours=169))[0].code == "no_extra_product"
    done = sheet_for(now=LAID + timedelta(days=30), summer=Wash.HAND_NEUTRAL)
    assert done.donts == ()
    assert done.first[1].code == "coating_no_wax"
    assert done.first[2].words.startswith("Two buckets")


def test_compose_counts_fixed_hours_as_elapsed_time_over_a_clock_change() -> None:
    # UK clocks go back on 25 October 2026 at 02:00 (the last Sunday of October, Summer Time Order 2002).
    start = datetime(2026, 10, 24, 12, 0, tzinfo=LONDON)
    film = Setting(
        ProductClass.PAINT_FILM, Zone.FRONT, "Kittiwake film", start, start, start, start, None, start
    )
    sheet = sheet_for([film], now=start)
    jets = next(dont for dont in sheet.donts if dont.code == "film_no_jets")
    assert jets.until - start.astimezone(UTC) == timedelta(hours=48)
    assert moment_words(jets.until, LONDON) == "Monday 26 October, 11:00"


def test_compose_lets_rain_fall_on_film_but_not_on_a_coating() -> None:
    film = [laid(ProductClass.PAINT_FILM, Zone.FRONT, "Kittiwake film")]
    assert "keep_dry" not in {dont.code for dont in sheet_for(film).donts}
    assert "keep_dry" in {dont.code for dont in sheet_for(COATED).donts}


def test_compose_says_drops_and_bird_lime_are_no_drama_in_cure() -> None:
    sheet = sheet_for()
    assert "lift_lime_even_now" in {dont.code for dont in sheet.donts}
    wet = next(line for line in sheet.care if line.code == "if_it_got_wet")
    assert (wet.rank, wet.until) == (Rank.CURE, datetime(2026, 5, 11, 14, 10, tzinfo=UTC))


@pytest.mark.parametrize(
    ("flags", "summer", "code"),
    [
        ((), None, "wash_either_way"),
        ((), Wash.HAND_NEUTRAL, "wash_by_hand_at_home"),
        ((), Wash.LANCE_OWN_MITT, "wash_lance"),
        ((), Wash.LANCE_BRUSH, "wash_lance"),
        ((), Wash.TOUCH_FREE, "wash_touch_free"),
        ((), Wash.TUNNEL, "wash_tunnel"),
        ((), Wash.HARDLY_EVER, "wash_seldom"),
        ((Circumstance.NO_TAP,), Wash.HAND_NEUTRAL, "wash_bucket"),
        ((Circumstance.NO_TAP_WINTER,), Wash.HAND_NEUTRAL, "wash_by_hand_at_home"),
        ((Circumstance.SHARED_TUNNEL_USER,), Wash.HAND_NEUTRAL, "wash_tunnel"),
        ((Circumstance.NO_HOME_WASHING,), Wash.HAND_NEUTRAL, "wash_away"),
        ((Circumstance.NO_HOME_WASHING, Circumstance.NO_TAP), None, "wash_away"),
        ((Circumstance.CANNOT_WASH, Circumstance.NO_HOME_WASHING), None, "wash_paid"),
    ],
)
def test_compose_says_how_this_owner_washes(
    flags: tuple[Circumstance, ...], summer: Wash | None, code: str
) -> None:
    assert sheet_for(None, *flags, summer=summer).first[2].code == code


def test_compose_takes_the_winter_habit_in_the_salted_months() -> None:
    winter = datetime(2026, 12, 1, 10, tzinfo=LONDON)
    no_tap = Circumstance.NO_TAP_WINTER
    assert sheet_for(now=winter, summer=Wash.HAND_NEUTRAL, winter=Wash.TUNNEL).first[2].code == "wash_tunnel"
    assert sheet_for(None, no_tap, now=winter, winter=Wash.HAND_NEUTRAL).first[2].code == "wash_bucket"


@pytest.mark.parametrize("paint", [Paint.MATT, Paint.WRAPPED])
def test_compose_sends_no_matt_or_wrapped_car_through_a_machine(paint: Paint) -> None:
    tunnel = sheet_for(None, Circumstance.SHARED_TUNNEL_USER, paint=paint, summer=Wash.TUNNEL)
    assert tunnel.first[2].code == "wash_either_way"
    assert "shared_tunnel" not in codes(tunnel)
    barred = sheet_for(None, Circumstance.NO_HOME_WASHING, paint=paint)
    assert barred.first[2].code == "wash_away_hand"


def test_compose_puts_no_gloss_on_matt_paint() -> None:
    wax = [OnCar(ProductClass.NATURAL_WAX, Zone.TOPS, "Dunlin wax", "")]
    topper = [OnCar(ProductClass.SILICA_TOPPER, Zone.TOPS, "Tern spray", "")]
    matt = sheet_for([], Circumstance.TREES, layers=[*wax, *topper], paint=Paint.MATT)
    clear = sheet_for([], Circumstance.TREES, layers=[*wax, *topper])
    assert codes(clear) >= {"wax_refresh", "topper_habit", "sap_topper"}
    assert codes(matt) & {"wax_refresh", "topper_habit", "sap_topper"} == set()
    assert "nothing_glossy" in codes(matt)


def test_compose_keeps_solvent_off_film() -> None:
    film = [OnCar(ProductClass.PAINT_FILM, Zone.FRONT, "Kittiwake film", "")]
    flags = (Circumstance.TREES, Circumstance.TRACK, Circumstance.HIGH_MILEAGE)
    assert codes(sheet_for([], *flags, layers=[])) >= {"sap", "track_rubber", "motorway_tar"}
    assert codes(sheet_for([], *flags, layers=film)) & {"sap", "track_rubber", "motorway_tar"} == set()
    assert "sap_soft" in codes(sheet_for([], *flags, layers=film))


def test_compose_lets_advice_wait_for_a_dated_wait_instead_of_losing_it() -> None:
    sheet = sheet_for(None, Circumstance.COAST)
    assert words_of(sheet, "coast_rinse").startswith("After the no-wash time: after the beach")
    later = sheet_for(None, Circumstance.COAST, now=LAID + timedelta(days=8))
    assert words_of(later, "coast_rinse").startswith("After the beach")


def test_compose_speaks_of_salt_only_near_winter_and_on_salted_roads() -> None:
    assert "salt_rinse" not in codes(sheet_for(now=datetime(2026, 9, 16, 12, tzinfo=LONDON)))
    assert "salt_rinse" in codes(sheet_for(now=datetime(2026, 9, 17, 12, tzinfo=LONDON)))
    winter = datetime(2026, 12, 1, 12, tzinfo=LONDON)
    assert "salt_rinse" not in codes(sheet_for(now=winter, salted=False))
    assert "salt_rinse" in codes(sheet_for(None, Circumstance.SALTED_ROADS, now=winter, salted=False))


def test_compose_leaves_a_stored_car_without_a_wash_rhythm_or_salt() -> None:
    winter = datetime(2026, 12, 1, 12, tzinfo=LONDON)
    stored = codes(sheet_for([], Circumstance.STORED, layers=live(COATED), now=winter))
    assert stored >= {"stored_rest", "storage_clean", "storage_cover", "storage_mechanical"}
    assert stored & {"salt_rinse", "coating_rhythm", "cold_wash", "storage_wake_wash"} == set()
    assert "storage_wake_wash" in codes(sheet_for([], Circumstance.STORED, layers=live(COATED)))


@pytest.mark.parametrize(
    ("flag", "code"),
    [
        (Circumstance.NO_GARAGE, "open_air"),
        (Circumstance.NO_HOME_WASHING, "no_home_washing"),
        (Circumstance.HIGH_MILEAGE, "motorway_front"),
        (Circumstance.LOW_MILEAGE, "before_standing"),
        (Circumstance.TRACK, "track_clean"),
        (Circumstance.TOWING, "caravan"),
        (Circumstance.DOGS, "dog_bumper"),
        (Circumstance.CHILDREN, "cream_stains"),
        (Circumstance.COAST, "coast_rinse"),
        (Circumstance.TREES, "sap"),
        (Circumstance.HARD_WATER, "hard_water_rinse"),
        (Circumstance.BUILDING_WORK, "building_dust"),
        (Circumstance.STORED, "stored_rest"),
        (Circumstance.COMPANY_CAR, "mirror_tag"),
        (Circumstance.SHARED_TUNNEL_USER, "shared_tunnel"),
        (Circumstance.CANNOT_WASH, "wash_paid"),
        (Circumstance.SENSITIVE, "scent_free"),
    ],
)
def test_compose_answers_each_circumstance(flag: Circumstance, code: str) -> None:
    assert code not in codes(sheet_for([]))
    assert code in codes(sheet_for([], flag))


def test_compose_warns_of_fresh_paint_after_a_respray() -> None:
    assert "fresh_paint" in codes(sheet_for([], processes=(Process.RESPRAY,)))
    assert "fresh_paint" not in codes(sheet_for([]))


def test_compose_fits_a_full_coating_visit_on_two_pages() -> None:
    # About 650 words fit on a side of A4 in two columns at 9 point (our own count).
    fresh = [
        *COATED,
        laid(ProductClass.WHEEL_COATING, Zone.WHEELS, "Shearwater wheel coating"),
        laid(ProductClass.GLASS_COATING, Zone.SCREEN, "Petrel glass coating", dry=12, wash=48),
    ]
    flags = (Circumstance.NO_GARAGE, Circumstance.TREES, Circumstance.NO_TAP_WINTER)
    sheet = sheet_for(fresh, *flags, summer=Wash.HAND_NEUTRAL, processes=(Process.IRON_REMOVER, Process.CUT))
    lines: list[Line | Dont] = [*sheet.first, *sheet.donts, *sheet.care, *sheet.safety]
    assert sum(len(f"{line.words} {line.why}".split()) for line in lines) <= 1300
    assert max(len(line.words.split()) for line in sheet.safety) <= 45


def test_card_says_which_panels_a_layer_leaves_out() -> None:
    where = "all painted panels except left rear wing"
    paint = ProductClass.POLYMER_SEALANT
    layers = [OnCar(paint, zone, "Gannet sealant", "until around May", where) for zone in PANEL_ZONES]
    layers.append(OnCar(paint, Zone.WHEELS, "Gannet sealant", "until around May"))
    on_car = sheet_for([], layers=layers).first[0]
    assert on_car.words == f"Gannet sealant on the wheel faces and {where}, until around May."


def test_compose_moves_what_the_card_has_no_room_for_behind_it() -> None:
    places = [Zone.TOPS, Zone.WHEELS, Zone.SCREEN, Zone.TRIM, Zone.SEATS]
    layers = [OnCar(ProductClass.UNKNOWN, zone, f"Layer {zone}", "") for zone in places]
    sheet = sheet_for([], layers=layers)
    assert sheet.first[0].words.count("Layer") == 4
    assert words_of(sheet, "also_on_car") == "Also on it: Layer seats on the seats."


def test_compose_has_three_lines_for_a_bare_car() -> None:
    sheet = sheet_for([], layers=[])
    assert [line.code for line in sheet.first] == ["on_car", "nothing_setting", "wash_either_way"]


def test_compose_refuses_times_without_a_zone() -> None:
    naive = LAID.replace(tzinfo=None)
    with pytest.raises(NaiveTimeError):
        sheet_for([], now=naive)
    with pytest.raises(NaiveTimeError):
        Setting(ProductClass.UNKNOWN, Zone.TOPS, "x", LAID, LAID, naive, LAID, None, LAID)


@pytest.mark.parametrize("words", ["until 12 February", "until 3rd march 2027", "until 2027-02-12"])
def test_on_car_refuses_a_forecast_day(words: str) -> None:
    with pytest.raises(ForecastDayError):
        OnCar(ProductClass.UNKNOWN, Zone.TOPS, "Gannet", words)


def test_moment_words_speak_the_clock_of_the_zone_and_round_up() -> None:
    moment = datetime(2026, 5, 5, 14, 10, tzinfo=UTC)
    assert moment_words(moment, LONDON) == "Tuesday 5 May, 15:10"
    assert moment_words(moment + timedelta(seconds=1), LONDON) == "Tuesday 5 May, 15:11"
    assert moment_words(datetime(2026, 5, 5, 23, 59, 30, tzinfo=UTC), LONDON) == "Wednesday 6 May, 01:00"
    assert day_words(date(2026, 10, 25)) == "Sunday 25 October"


def test_end_of_a_wait_is_told_to_the_minute_within_three_days_and_by_the_day_beyond() -> None:
    now = datetime(2026, 5, 4, 14, 10, tzinfo=UTC)
    telling = Telling(now, LONDON)
    assert telling.until(now + timedelta(days=3)) == "Thursday 7 May, 15:10"
    assert telling.until(now + timedelta(days=3, minutes=1)) == "the end of Thursday 7 May"
    assert telling.until(now + timedelta(days=14, minutes=-3)) == "the end of Monday 18 May"


def test_far_end_is_told_by_the_day_of_the_studio_and_midnight_ends_the_day_before() -> None:
    telling = Telling(datetime(2026, 7, 1, 9, tzinfo=UTC), LONDON)
    # 23:30 and 00:30 in Skerrin, and the midnight between them: the day of Greenwich is the 14th each time.
    assert telling.until(datetime(2026, 7, 14, 22, 30, tzinfo=UTC)) == "the end of Tuesday 14 July"
    assert telling.until(datetime(2026, 7, 14, 23, 0, tzinfo=UTC)) == "the end of Tuesday 14 July"
    assert telling.until(datetime(2026, 7, 14, 23, 30, tzinfo=UTC)) == "the end of Wednesday 15 July"


def test_washing_line_is_the_third_line_of_a_car_that_has_set() -> None:
    owner = Circumstances(wash_summer=Wash.TOUCH_FREE)
    line = washing_line(layers=live(COATED), circumstances=owner, today=date(2026, 6, 1), salt=SALT)
    assert line == sheet_for([], layers=live(COATED), summer=Wash.TOUCH_FREE).first[2]
