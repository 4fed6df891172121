"""Number and letter drills: their diameters.

The wire-gauge and letter sizes of ASME B94.11M: figures from memory, compared with a public table; Nos. 51,
54, 55, 58, 66 and 68 as read in Army TM 5-3810-294-34, Table 1-4. That manual misprints No. 28 as 1.028 and
No. 54 as 0.555.
"""

from collections.abc import Mapping
from fractions import Fraction
from types import MappingProxyType

from fitworth.errors import InvalidValueError
from fitworth.quantities.units import INCH

# Ten-thousandths of an inch, No. 1 first.
_NUMBERS_TENTHS_THOU = (
    *(2280, 2210, 2130, 2090, 2055, 2040, 2010, 1990, 1960, 1935),
    *(1910, 1890, 1850, 1820, 1800, 1770, 1730, 1695, 1660, 1610),
    *(1590, 1570, 1540, 1520, 1495, 1470, 1440, 1405, 1360, 1285),
    *(1200, 1160, 1130, 1110, 1100, 1065, 1040, 1015, 995, 980),
    *(960, 935, 890, 860, 820, 810, 785, 760, 730, 700),
    *(670, 635, 595, 550, 520, 465, 430, 420, 410, 400),
    *(390, 380, 370, 360, 350, 330, 320, 310, 292, 280),
    *(260, 250, 240, 225, 210, 200, 180, 160, 145, 135),
)
# Thousandths of an inch, A first.
_LETTERS_THOU = (
    *(234, 238, 242, 246, 250, 257, 261, 266, 272, 277, 281, 290, 295),
    *(302, 316, 323, 332, 339, 348, 358, 368, 377, 386, 397, 404, 413),
)

DRILLS_MM: Mapping[str, Fraction] = MappingProxyType(
    {
        str(number): INCH.factor * Fraction(size, 10_000)
        for number, size in enumerate(_NUMBERS_TENTHS_THOU, start=1)
    }
    | {chr(ord("A") + place): INCH.factor * Fraction(size, 1000) for place, size in enumerate(_LETTERS_THOU)}
)
"""Diameter [mm] by name: "1" to "80", "A" to "Z"."""


def get_drill_mm(name: str) -> Fraction:
    """Return the diameter of a number or letter drill [mm], exact.

    Args:
        name: "56" or "F".

    Raises:
        InvalidValueError: there is no such drill.

    Examples:
        >>> float(get_drill_mm("56"))
        1.1811
    """
    if name not in DRILLS_MM:
        raise InvalidValueError(
            "There is no such drill: number drills run from #1 to #80, letter drills from A to Z."
        )
    return DRILLS_MM[name]
