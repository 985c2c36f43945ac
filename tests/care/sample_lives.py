"""Published lives that the tests of learning share, each with where it is from."""

from __future__ import annotations

from math import inf

from crm.care.observed import Observations

NIST_FAILED = (54, 187, 216, 240, 244, 335, 361, 373, 375, 386)
"""NIST/SEMATECH e-Handbook of Statistical Methods, 8.4.1.3: 20 units on test, stopped at 500 hours."""
NIST = Observations.from_columns([*NIST_FAILED, *[500] * 10], [*NIST_FAILED, *[inf] * 10])

COSMESIS_RADIATION = (
    *(
        (0, 5),
        (0, 7),
        (0, 8),
        (4, 11),
        (5, 11),
        (5, 12),
        (6, 10),
        (7, 14),
        (7, 16),
        (11, 15),
        (11, 18),
        (15, inf),
    ),
    *(
        (17, 25),
        (17, 25),
        (17, inf),
        (18, inf),
        (19, 26),
        (19, 35),
        (22, inf),
        (24, inf),
        (24, inf),
        (25, 37),
    ),
    *(
        (26, 40),
        (27, 34),
        (32, inf),
        (33, inf),
        (34, inf),
        (36, 44),
        (36, 48),
        (36, inf),
        (36, inf),
        (37, 44),
    ),
    *((37, inf), (37, inf), (37, inf), (38, inf), (40, inf), (45, inf), *[(46, inf)] * 8),
)
"""Finkelstein and Wolfe, Biometrics 41 (1985) 731-740, the radiation group, as in bcos of R's interval (94 rows)."""
COSMESIS = Observations.from_columns(*zip(*COSMESIS_RADIATION, strict=True))

SEVEN_ROWS = Observations.from_columns([2, 5, 1, 1, 9, 8, 10], [3, 6, 7, 7, 12, 10, 13])
"""Fay and Shaw, J. Stat. Softw. 36(2) (2010), vignette of R's interval, 6.3."""


def watched(times: str) -> Observations:
    """Lives as they are printed in the tables: `6+` was still going at 6."""
    words = times.replace(" ", "").split(",")
    ages = [float(word.rstrip("+")) for word in words]
    return Observations.from_columns(
        ages, [inf if word.endswith("+") else age for word, age in zip(words, ages, strict=True)]
    )


TREATED = watched("6,6,6,6+,7,9+,10,10+,11+,13,16,17+,19+,20+,22,23,25+,32+,32+,34+,35+")
"""Freireich et al., Blood 21 (1963) 699-716, as in Klein and Moeschberger, Survival Analysis, 1.2."""
UNTREATED = watched("1,1,2,2,3,4,4,5,5,8,8,8,8,11,11,12,12,15,17,22,23")
"""The other arm of the same trial."""
