"""The words of the trade as closed lists, shared by the engine, the record and the screens."""

from __future__ import annotations

from enum import IntEnum, StrEnum


class ProductClass(StrEnum):
    """What kind of protection a product is: the class, never the name on the bottle, decides the arithmetic."""

    GLAZE = "glaze"
    QUICK_DETAILER = "quick_detailer"
    NATURAL_WAX = "natural_wax"
    DURABLE_WAX = "durable_wax"
    RINSE_ON = "rinse_on"
    POLYMER_SEALANT = "polymer_sealant"
    SILICA_TOPPER = "silica_topper"
    LIGHT_COATING = "light_coating"
    COATING_ENTHUSIAST = "coating_enthusiast"
    COATING_PROFESSIONAL = "coating_professional"
    COATING_MULTI = "coating_multi"
    PAINT_FILM = "paint_film"
    COLOUR_WRAP = "colour_wrap"
    MATT_SEALANT = "matt_sealant"
    WHEEL_WAX = "wheel_wax"
    WHEEL_SEALANT = "wheel_sealant"
    WHEEL_COATING = "wheel_coating"
    CALIPER_COATING = "caliper_coating"
    RAIN_REPELLENT = "rain_repellent"
    GLASS_COATING = "glass_coating"
    TRIM_DRESSING = "trim_dressing"
    TRIM_SEALANT = "trim_sealant"
    TRIM_COATING = "trim_coating"
    LAMP_SEALANT = "lamp_sealant"
    LAMP_CLEAR = "lamp_clear"
    LAMP_FILM = "lamp_film"
    TYRE_WATER_DRESSING = "tyre_water_dressing"
    TYRE_GEL = "tyre_gel"
    TYRE_COATING = "tyre_coating"
    LEATHER_CREAM = "leather_cream"
    LEATHER_COATING = "leather_coating"
    SUEDE_PROTECTOR = "suede_protector"
    FABRIC_GUARD = "fabric_guard"
    SOFT_TOP_PROOFER = "soft_top_proofer"
    VINYL_TOP_PROTECTANT = "vinyl_top_protectant"
    SEAL_CONDITIONER = "seal_conditioner"
    METAL_SEALANT = "metal_sealant"
    ENGINE_BAY_DRESSING = "engine_bay_dressing"
    CAVITY_WAX = "cavity_wax"
    UNKNOWN = "unknown"


class Mark(StrEnum):
    """How far a default number can be trusted."""

    COMMON = "common"
    RANGE = "range"
    GUESS = "guess"


class Parking(StrEnum):
    """Where the car spends its nights. No answer is None, never a member."""

    GARAGE = "garage"
    CARPORT = "carport"
    OUTDOORS = "outdoors"
    TREES_OR_INDUSTRY = "trees_or_industry"
    NEAR_SEA = "near_sea"


class Wash(StrEnum):
    """The main way the car is washed in a season. No answer is None, never a member."""

    HAND_NEUTRAL = "hand_neutral"
    LANCE_OWN_MITT = "lance_own_mitt"
    LANCE_BRUSH = "lance_brush"
    TOUCH_FREE = "touch_free"
    TUNNEL = "tunnel"
    HARDLY_EVER = "hardly_ever"


class Prep(StrEnum):
    """How far the surface was prepared before the layer went on."""

    POLISHED_WIPED = "polished_wiped"
    CLAYED = "clayed"
    WASHED = "washed"


class Air(StrEnum):
    """How the conditions of an application compare with the product's window. Not recorded is None."""

    INSIDE = "inside"
    MARGINAL = "marginal"
    OUTSIDE = "outside"


class Process(StrEnum):
    """A thing done to surfaces, in the studio or elsewhere."""

    WHEELS_CLEANED = "wheels_cleaned"
    PRE_WASH_MILD = "pre_wash_mild"
    PRE_WASH_STRONG = "pre_wash_strong"
    CONTACT_WASH = "contact_wash"
    IRON_REMOVER = "iron_remover"
    TAR_REMOVER = "tar_remover"
    MINERAL_REMOVER = "mineral_remover"
    CLAY = "clay"
    STRIP_WASH = "strip_wash"
    FINE_POLISH = "fine_polish"
    ONE_STEP_POLISH = "one_step_polish"
    CUT = "cut"
    SANDING = "sanding"
    PANEL_WIPE = "panel_wipe"
    FILM_REMOVED = "film_removed"
    LAMP_CURE = "lamp_cure"
    INTERIOR_CLEAN = "interior_clean"
    LEATHER_CLEAN = "leather_clean"
    FABRIC_CLEAN = "fabric_clean"
    RESPRAY = "respray"
    PANEL_REPLACED = "panel_replaced"
    GLASS_REPLACED = "glass_replaced"
    WHEEL_REFURBISH = "wheel_refurbish"
    TYRES_REPLACED = "tyres_replaced"
    RETRIM = "retrim"
    LAMP_REPLACED = "lamp_replaced"
    TUNNEL_WASH = "tunnel_wash"
    TOUCH_FREE_WASH = "touch_free_wash"


class EndReason(StrEnum):
    """Why surfaces stopped being protected by a layer. A person or a physical event ends it, never arithmetic."""

    WORN = "worn"
    POLISHED = "polished"
    CLAYED = "clayed"
    STRIPPED = "stripped"
    RESPRAYED = "resprayed"
    PART_REPLACED = "part_replaced"
    FILM_REMOVED = "film_removed"
    SUPERSEDED = "superseded"
    FAILED = "failed"
    UNKNOWN = "unknown"


class WaterGrade(IntEnum):
    """How water behaves on a clean or dirty surface, 4 to 0."""

    WETS_OUT = 0
    CLINGING = 1
    LAZY = 2
    SHEDDING = 3
    TIGHT = 4


class Moment(StrEnum):
    """When a surface was graded. Only a grade after decontamination is evidence."""

    BEFORE_DECON = "before_decon"
    AFTER_DECON = "after_decon"


class Paint(StrEnum):
    """The paint system of the car."""

    CLEAR_OVER_BASE = "clear_over_base"
    TRI_COAT = "tri_coat"
    SINGLE_STAGE = "single_stage"
    MATT = "matt"
    WRAPPED = "wrapped"
    UNKNOWN = "unknown"


class Circumstance(StrEnum):
    """How the owner lives with the car, as far as it changes the advice."""

    NO_GARAGE = "no_garage"
    NO_TAP = "no_tap"
    NO_TAP_WINTER = "no_tap_winter"
    NO_HOME_WASHING = "no_home_washing"
    HIGH_MILEAGE = "high_mileage"
    LOW_MILEAGE = "low_mileage"
    TRACK = "track"
    TOWING = "towing"
    DOGS = "dogs"
    CHILDREN = "children"
    COAST = "coast"
    SALTED_ROADS = "salted_roads"
    TREES = "trees"
    HARD_WATER = "hard_water"
    BUILDING_WORK = "building_work"
    STORED = "stored"
    COMPANY_CAR = "company_car"
    SHARED_TUNNEL_USER = "shared_tunnel_user"
    CANNOT_WASH = "cannot_wash"
    SENSITIVE = "sensitive"
    ELECTRIC = "electric"
    DRIVER_ASSISTANCE = "driver_assistance"


class Condition(StrEnum):
    """The five conditions of a layer on a zone, as the screens name them."""

    SETTING = "setting"
    HOLDING = "holding"
    THINNING = "thinning"
    DUE_A_LOOK = "due_a_look"
    ENDED = "ended"


class WashPlan(StrEnum):
    """How often the car is meant to come in for a maintenance wash."""

    NONE = "none"
    ENTHUSIAST = "enthusiast"
    NO_TIME = "no_time"
    SEALED_DAILY = "sealed_daily"
    FILM_OR_MATT = "film_or_matt"
    WEEKEND = "weekend"
    FLEET = "fleet"


class Severity(StrEnum):
    """How loudly a rule speaks: STOP asks for a confirmation with a reason, NOTE only wants to be read."""

    STOP = "stop"
    NOTE = "note"
