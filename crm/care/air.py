"""The air and the panel while a layer goes on: dew point, margin, and the window of a product.

Dew point over water, also below freezing: a panel that cold is stopped by its own temperature, and the
value over water is the lower one, so this choice never hides a risk from a panel above freezing.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, fields, replace
from math import ceil, floor, isfinite, log

from crm.care.terms import Air, Mark, ProductClass, Severity

_A = 17.62
_B = 243.12
_COLDEST_C, _HOTTEST_C = -45.0, 60.0
_NEAR_KELVIN = 2.0
_NEAR_HUMIDITY = 0.10


class NotAReading(ValueError):
    """A temperature or a humidity that cannot have been measured."""


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing about the conditions that a person should know, as a sentence; NOTE is marginal."""

    severity: Severity
    words: str


@dataclass(frozen=True, slots=True)
class Band:
    """Good from `good_low` to `good_high`; stop outside `stop_low` to `stop_high`; marginal between.

    Values on a line belong to the better side. None is no limit.
    """

    good_low: float | None = None
    good_high: float | None = None
    stop_low: float | None = None
    stop_high: float | None = None

    def judge(self, value: float) -> Air:
        """Where the value lies."""
        if _under(value, self.stop_low) or _over(value, self.stop_high):
            return Air.OUTSIDE
        if _under(value, self.good_low) or _over(value, self.good_high):
            return Air.MARGINAL
        return Air.INSIDE


@dataclass(frozen=True, slots=True)
class AirWindow:
    """What a product can bear while it goes on: temperatures in °C, humidity 0 to 1, margin in K.

    In a product's own window a band left None takes the default of its class.
    """

    air: Band | None = None
    humidity: Band | None = None
    surface: Band | None = None
    bay_min: Band | None = None
    margin: Band | None = None
    mark: Mark = field(default=Mark.COMMON, compare=False)

    @classmethod
    def from_data_sheet(
        cls,
        *,
        air_low: float | None = None,
        air_high: float | None = None,
        humidity_low: float | None = None,
        humidity_high: float | None = None,
    ) -> AirWindow:
        """A window from a sheet's plain limits: within 2 °C or 10 % humidity of one is marginal.

        A pair of which neither is given stays with the class. Common practice, no source.
        """
        for value in (humidity_low, humidity_high):
            if value is not None and not 0 <= value <= 1:
                raise NotAReading("Give a humidity limit as a fraction: 60 % is 0.60.")
        return cls(
            air=_limits(air_low, air_high, _NEAR_KELVIN),
            humidity=_limits(humidity_low, humidity_high, _NEAR_HUMIDITY),
        )


@dataclass(frozen=True, slots=True)
class AirVerdict:
    """The conditions as one word, the margin above the dew point in K, and what was found.

    `air` is None where nothing was recorded that the window could judge.
    """

    air: Air | None
    margin_k: float | None
    findings: tuple[Finding, ...]


_MARGIN = Band(good_low=5, stop_low=3)
_SURFACE = Band(good_low=12, good_high=28, stop_low=8, stop_high=35)
_BAY_MIN = Band(good_low=10, stop_low=5)

COATING_WINDOW = AirWindow(
    air=Band(15, 25, 10, 30),
    humidity=Band(0.40, 0.65, 0.25, 0.80),
    surface=_SURFACE,
    bay_min=_BAY_MIN,
    margin=_MARGIN,
)
HAZING_WINDOW = AirWindow(
    air=Band(good_low=13, good_high=25, stop_low=8), surface=_SURFACE, bay_min=_BAY_MIN, margin=_MARGIN
)
SPRAY_WINDOW = AirWindow(air=Band(good_low=5, stop_low=3), surface=Band(5, 28, 3, 35), margin=_MARGIN)
FILM_WINDOW = AirWindow(surface=_SURFACE, bay_min=_BAY_MIN)
"""Windows of the kinds of product. Common practice, no source; humidity and overnight cold as ranges.

Between the marginal and the stop figures of humidity (25-30 and 75-80 %) counts as marginal. Surfaces
outside the marginal band stop; what is sprayed and wiped bears the cold that its air window bears. Film
is laid wet, so the dew point does not matter to it. The 3 K line is a rule of steel coating practice.
"""

_C = ProductClass
_COATINGS = (
    _C.LIGHT_COATING,
    _C.COATING_ENTHUSIAST,
    _C.COATING_PROFESSIONAL,
    _C.COATING_MULTI,
    _C.WHEEL_COATING,
    _C.CALIPER_COATING,
    _C.GLASS_COATING,
    _C.TRIM_COATING,
    _C.LAMP_CLEAR,
    _C.TYRE_COATING,
    _C.LEATHER_COATING,
)
_HAZING = (
    _C.GLAZE,
    _C.NATURAL_WAX,
    _C.DURABLE_WAX,
    _C.POLYMER_SEALANT,
    _C.MATT_SEALANT,
    _C.WHEEL_WAX,
    _C.WHEEL_SEALANT,
    _C.LAMP_SEALANT,
    _C.METAL_SEALANT,
)
_FILMS = (_C.PAINT_FILM, _C.COLOUR_WRAP, _C.LAMP_FILM)

WINDOWS: dict[ProductClass, AirWindow] = {
    product_class: SPRAY_WINDOW for product_class in ProductClass if product_class is not _C.UNKNOWN
}
WINDOWS |= dict.fromkeys(_COATINGS, COATING_WINDOW)
WINDOWS |= dict.fromkeys(_HAZING, HAZING_WINDOW)
WINDOWS |= dict.fromkeys(_FILMS, FILM_WINDOW)
WINDOWS[_C.UNKNOWN] = AirWindow(air=Band(), humidity=Band(), surface=Band(), bay_min=Band(), margin=Band())


def dew_point(air_c: float, humidity: float) -> float:
    """The temperature in °C at which this air starts to wet a surface.

    `humidity` is a fraction above 0 and up to 1. Magnus form over water, 17.62 and 243.12 °C, good from
    -45 to 60 °C (Sonntag, Zeitschrift für Meteorologie 70(5), 1990, 340-344, equations 5 and 6).
    Raises NotAReading for a humidity such as 60 and for air beyond the formula's range.
    """
    _check_air(air_c)
    _check_humidity(humidity)
    if humidity == 1:
        return air_c
    exponent = log(humidity) + _A * air_c / (_B + air_c)
    return _B * exponent / (_A - exponent)


def margin(air_c: float, humidity: float, surface_c: float) -> float:
    """How far the surface is above the dew point, in K; negative means water is forming on it."""
    return surface_c - dew_point(air_c, humidity)


def assess_air(
    product_class: ProductClass,
    air_c: float | None,
    humidity: float | None,
    surface_c: float | None,
    bay_min_c: float | None,
    own: AirWindow | None = None,
) -> AirVerdict:
    """Judge what was measured against the product's own window, or its class's where it has none.

    Readings not taken are None and are not judged. One stop makes the whole OUTSIDE, otherwise one
    marginal reading makes it MARGINAL. Raises NotAReading for what cannot have been measured.
    """
    window = _window_of(product_class, own)
    if air_c is not None:
        _check_air(air_c)
    if humidity is not None:
        _check_humidity(humidity)
    margin_k = None
    if air_c is not None and humidity is not None and surface_c is not None:
        margin_k = margin(air_c, humidity, surface_c)
    readings = (
        _Reading("Air at", air_c, window.air, "°C"),
        _Reading("Humidity of", humidity, window.humidity, "%"),
        _Reading("Surface at", surface_c, window.surface, "°C"),
        _Reading("Coldest bay night at", bay_min_c, window.bay_min, "°C"),
        _Reading("Surface above the dew point by", margin_k, window.margin, "K"),
    )
    judged = [(reading, verdict) for reading in readings if (verdict := reading.verdict()) is not None]
    findings = tuple(finding for reading, verdict in judged for finding in reading.findings(verdict))
    return AirVerdict(_worst([verdict for _, verdict in judged]), margin_k, findings)


@dataclass(frozen=True, slots=True)
class _Reading:
    words: str
    value: float | None
    band: Band | None
    unit: str

    def verdict(self) -> Air | None:
        if self.value is None or self.band is None:
            return None
        if not isfinite(self.value):
            raise NotAReading("A reading must be a plain number.")
        return self.band.judge(self.value)

    def findings(self, verdict: Air) -> Iterator[Finding]:
        if verdict is Air.INSIDE or self.value is None or self.band is None:
            return
        stop = verdict is Air.OUTSIDE
        low, high = (
            (self.band.stop_low, self.band.stop_high) if stop else (self.band.good_low, self.band.good_high)
        )
        if self.unit == "K" and self.value < 0:
            line = f"Surface {self._shown(-self.value, ceil)} below the dew point, so water settles on it"
        elif low is not None and self.value < low:
            line = f"{self.words} {self._shown(self.value, floor)}, below {self._shown(low, floor)}"
        elif high is not None:
            line = f"{self.words} {self._shown(self.value, ceil)}, above {self._shown(high, ceil)}"
        else:
            return
        severity = Severity.STOP if stop else Severity.NOTE
        yield Finding(severity, f"{line}: outside the limits." if stop else f"{line}: workable, not ideal.")

    def _shown(self, value: float, rounded: Callable[[float], int]) -> str:
        """One decimal at the most, rounded away from the line so that 2.96 K never reads as 3."""
        scaled = value * 100 if self.unit == "%" else value
        return f"{rounded(round(scaled * 10, 6)) / 10:g} {self.unit}"


def _window_of(product_class: ProductClass, own: AirWindow | None) -> AirWindow:
    default = WINDOWS[product_class]
    if own is None:
        return default
    bands = {
        each.name: band
        for each in fields(AirWindow)
        if each.name != "mark" and (band := getattr(own, each.name)) is not None
    }
    return replace(default, mark=own.mark, **bands)


def _worst(verdicts: list[Air]) -> Air | None:
    for verdict in (Air.OUTSIDE, Air.MARGINAL, Air.INSIDE):
        if verdict in verdicts:
            return verdict
    return None


def _under(value: float, limit: float | None) -> bool:
    return limit is not None and value < limit


def _over(value: float, limit: float | None) -> bool:
    return limit is not None and value > limit


def _limits(low: float | None, high: float | None, near: float) -> Band | None:
    if low is None and high is None:
        return None
    return Band(
        good_low=None if low is None else low + near,
        good_high=None if high is None else high - near,
        stop_low=low,
        stop_high=high,
    )


def _check_air(air_c: float) -> None:
    if not _COLDEST_C <= air_c <= _HOTTEST_C:
        raise NotAReading(f"Air at {air_c:g} °C cannot be right: give degrees Celsius from -45 to 60.")


def _check_humidity(humidity: float) -> None:
    if not 0 < humidity <= 1:
        raise NotAReading("Give the humidity as a fraction above 0 and up to 1: 60 % is 0.60.")
