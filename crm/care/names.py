"""Names for every closed list of the trade: classes, processes, habits, grades, conditions, plans.

Lower-case, so that a caller can put them into a sentence. Nothing here is stored.
"""

from __future__ import annotations

from crm.care.terms import (
    Air,
    Circumstance,
    Condition,
    EndReason,
    Mark,
    Moment,
    Paint,
    Parking,
    Prep,
    Process,
    ProductClass,
    Wash,
    WashPlan,
    WaterGrade,
)

CLASS_NAMES: dict[ProductClass, str] = {
    ProductClass.GLAZE: "glaze",
    ProductClass.QUICK_DETAILER: "quick detailer",
    ProductClass.NATURAL_WAX: "natural wax",
    ProductClass.DURABLE_WAX: "durable wax",
    ProductClass.RINSE_ON: "rinse-on sealant",
    ProductClass.POLYMER_SEALANT: "paint sealant",
    ProductClass.SILICA_TOPPER: "silica topper",
    ProductClass.LIGHT_COATING: "light coating",
    ProductClass.COATING_ENTHUSIAST: "coating, enthusiast grade",
    ProductClass.COATING_PROFESSIONAL: "coating, professional",
    ProductClass.COATING_MULTI: "coating, several coats",
    ProductClass.PAINT_FILM: "paint-protection film",
    ProductClass.COLOUR_WRAP: "colour wrap",
    ProductClass.MATT_SEALANT: "matt-safe sealant",
    ProductClass.WHEEL_WAX: "wheel wax",
    ProductClass.WHEEL_SEALANT: "wheel sealant",
    ProductClass.WHEEL_COATING: "wheel coating",
    ProductClass.CALIPER_COATING: "caliper coating",
    ProductClass.RAIN_REPELLENT: "rain repellent",
    ProductClass.GLASS_COATING: "coating for glass",
    ProductClass.TRIM_DRESSING: "trim dressing",
    ProductClass.TRIM_SEALANT: "trim sealant",
    ProductClass.TRIM_COATING: "trim coating",
    ProductClass.LAMP_SEALANT: "headlamp sealant",
    ProductClass.LAMP_CLEAR: "sprayed headlamp clear",
    ProductClass.LAMP_FILM: "headlamp film",
    ProductClass.TYRE_WATER_DRESSING: "water-based tyre dressing",
    ProductClass.TYRE_GEL: "tyre gel",
    ProductClass.TYRE_COATING: "tyre coating",
    ProductClass.LEATHER_CREAM: "leather cream",
    ProductClass.LEATHER_COATING: "leather coating",
    ProductClass.SUEDE_PROTECTOR: "suede protector",
    ProductClass.FABRIC_GUARD: "fabric guard",
    ProductClass.SOFT_TOP_PROOFER: "soft-top proofer",
    ProductClass.VINYL_TOP_PROTECTANT: "vinyl-top protectant",
    ProductClass.SEAL_CONDITIONER: "seal conditioner",
    ProductClass.METAL_SEALANT: "metal sealant",
    ProductClass.ENGINE_BAY_DRESSING: "engine bay dressing",
    ProductClass.CAVITY_WAX: "underbody and cavity wax",
    ProductClass.UNKNOWN: "unknown old layer",
}

PROCESS_NAMES: dict[Process, str] = {
    Process.WHEELS_CLEANED: "wheels cleaned",
    Process.PRE_WASH_MILD: "mild pre-wash",
    Process.PRE_WASH_STRONG: "strong alkaline pre-wash",
    Process.CONTACT_WASH: "contact wash",
    Process.IRON_REMOVER: "iron remover",
    Process.TAR_REMOVER: "tar remover",
    Process.MINERAL_REMOVER: "mineral remover",
    Process.CLAY: "clay",
    Process.STRIP_WASH: "strip wash",
    Process.FINE_POLISH: "fine polish",
    Process.ONE_STEP_POLISH: "one-step polish",
    Process.CUT: "cutting compound",
    Process.SANDING: "sanding",
    Process.PANEL_WIPE: "panel wipe",
    Process.FILM_REMOVED: "film removed",
    Process.LAMP_CURE: "lamp cure",
    Process.INTERIOR_CLEAN: "interior clean",
    Process.LEATHER_CLEAN: "leather clean",
    Process.FABRIC_CLEAN: "fabric clean",
    Process.RESPRAY: "respray",
    Process.PANEL_REPLACED: "panel replaced",
    Process.GLASS_REPLACED: "glass replaced",
    Process.WHEEL_REFURBISH: "wheels refurbished",
    Process.TYRES_REPLACED: "tyres replaced",
    Process.RETRIM: "re-trim",
    Process.LAMP_REPLACED: "lamp replaced",
    Process.TUNNEL_WASH: "tunnel wash",
    Process.TOUCH_FREE_WASH: "touch-free wash",
}

WASH_NAMES: dict[Wash, str] = {
    Wash.HAND_NEUTRAL: "by hand, neutral shampoo",
    Wash.LANCE_OWN_MITT: "lance bay with an own mitt",
    Wash.LANCE_BRUSH: "lance bay foam brush or roadside hand wash",
    Wash.TOUCH_FREE: "touch-free machine",
    Wash.TUNNEL: "brush or cloth tunnel",
    Wash.HARDLY_EVER: "hardly ever washed",
}

PARKING_NAMES: dict[Parking, str] = {
    Parking.GARAGE: "garage",
    Parking.CARPORT: "carport or underground",
    Parking.OUTDOORS: "outdoors",
    Parking.TREES_OR_INDUSTRY: "outdoors under trees, by a railway or industry",
    Parking.NEAR_SEA: "outdoors near the sea",
}

PREP_NAMES: dict[Prep, str] = {
    Prep.POLISHED_WIPED: "polished and wiped",
    Prep.CLAYED: "clayed, not polished",
    Prep.WASHED: "washed only",
}

AIR_NAMES: dict[Air, str] = {
    Air.INSIDE: "inside the product's window",
    Air.MARGINAL: "at the edge of the product's window",
    Air.OUTSIDE: "outside the product's window",
}

MARK_NAMES: dict[Mark, str] = {
    Mark.COMMON: "common practice",
    Mark.RANGE: "opinions differ",
    Mark.GUESS: "our estimate",
}

END_WORDS: dict[EndReason, str] = {
    EndReason.WORN: "worn away",
    EndReason.POLISHED: "polished off",
    EndReason.CLAYED: "clayed off",
    EndReason.STRIPPED: "stripped",
    EndReason.RESPRAYED: "gone with the respray",
    EndReason.PART_REPLACED: "gone with the old part",
    EndReason.FILM_REMOVED: "gone with the film",
    EndReason.SUPERSEDED: "taken over by a later layer",
    EndReason.FAILED: "failed",
    EndReason.UNKNOWN: "ended, reason not known",
}

GRADE_WORDS: dict[WaterGrade, str] = {
    WaterGrade.TIGHT: "tight, round beads or fast sheeting",
    WaterGrade.SHEDDING: "round but bigger, clears after a moment",
    WaterGrade.LAZY: "flat-edged and lazy, needs a jet to clear",
    WaterGrade.CLINGING: "a clinging film that breaks slowly",
    WaterGrade.WETS_OUT: "wets out completely",
}

MOMENT_NAMES: dict[Moment, str] = {
    Moment.BEFORE_DECON: "before decontamination",
    Moment.AFTER_DECON: "after decontamination",
}

PAINT_NAMES: dict[Paint, str] = {
    Paint.CLEAR_OVER_BASE: "clear over base",
    Paint.TRI_COAT: "tri-coat",
    Paint.SINGLE_STAGE: "single-stage",
    Paint.MATT: "matt or satin",
    Paint.WRAPPED: "wrapped",
    Paint.UNKNOWN: "not known",
}

CIRCUMSTANCE_NAMES: dict[Circumstance, str] = {
    Circumstance.NO_GARAGE: "no garage",
    Circumstance.NO_TAP: "no outside tap",
    Circumstance.NO_TAP_WINTER: "no outside tap in winter",
    Circumstance.NO_HOME_WASHING: "may not wash at home",
    Circumstance.HIGH_MILEAGE: "high mileage",
    Circumstance.LOW_MILEAGE: "low mileage",
    Circumstance.TRACK: "track days",
    Circumstance.TOWING: "towing",
    Circumstance.DOGS: "dogs",
    Circumstance.CHILDREN: "children",
    Circumstance.COAST: "beach or coast",
    Circumstance.SALTED_ROADS: "salted roads",
    Circumstance.TREES: "parks under trees",
    Circumstance.HARD_WATER: "hard water",
    Circumstance.BUILDING_WORK: "building work or rail dust nearby",
    Circumstance.STORED: "laid up for weeks or months",
    Circumstance.COMPANY_CAR: "company car or dealer servicing",
    Circumstance.SHARED_TUNNEL_USER: "shared with someone who uses tunnels",
    Circumstance.CANNOT_WASH: "owner cannot wash it",
    Circumstance.SENSITIVE: "sensitive to scents or chemicals",
    Circumstance.ELECTRIC: "electric",
    Circumstance.DRIVER_ASSISTANCE: "cameras and radar",
}

CONDITION_NAMES: dict[Condition, str] = {
    Condition.SETTING: "setting",
    Condition.HOLDING: "holding",
    Condition.THINNING: "thinning",
    Condition.DUE_A_LOOK: "due a look",
    Condition.ENDED: "ended",
}

PLAN_NAMES: dict[WashPlan, str] = {
    WashPlan.NONE: "no plan",
    WashPlan.ENTHUSIAST: "coated, owner keeps it up",
    WashPlan.NO_TIME: "coated, owner has no time",
    WashPlan.SEALED_DAILY: "sealed or waxed daily car",
    WashPlan.FILM_OR_MATT: "film or matt",
    WashPlan.WEEKEND: "weekend car or classic",
    WashPlan.FLEET: "van or fleet",
}
