"""Keys and figures as people read them: words for enumerations, lengths with inches, chances in per cent."""

import re
from collections.abc import Mapping, Sequence
from math import floor, log10
from typing import Any

from fitworth.families.model import Dimension
from fitworth.vocabulary import Grade, Instrument, Kind, Role, Status, Verdict

MM_PER_INCH = 25.4
MINUS = "\N{MINUS SIGN}"
THIN = "\N{NARROW NO-BREAK SPACE}"
NOTHING = "\N{EN DASH}"

UNITS: Mapping[str, str] = {
    "mm": f"{THIN}mm",
    "deg": "°",
    "ohm": f"{THIN}Ω",
    "uF": f"{THIN}µF",
    "1": "",
    "": "",
}
UNIT_NAMES: Mapping[str, str] = {
    "mm": "mm",
    "deg": "degrees",
    "ohm": "ohm",
    "uF": "µF",
    "1": "number",
    "": "",
}

ROLES: Mapping[Role, str] = {
    Role.SAFE: "Safety",
    Role.MOUNT: "Mounting",
    Role.SEAL: "Sealing",
    Role.CONNECT: "Connection",
    Role.RUN: "Running",
    Role.NOTE: "",
}
GRADES: Mapping[Grade, str] = {
    Grade.OEM: "OEM",
    Grade.AFTERMARKET_BRANDED: "aftermarket, branded",
    Grade.AFTERMARKET_UNBRANDED: "aftermarket, unbranded",
    Grade.REMANUFACTURED: "remanufactured",
    Grade.USED: "used",
    Grade.NEW_OLD_STOCK: "new old stock",
}
INSTRUMENTS: Mapping[Instrument, str] = {
    Instrument.CALIPER_OUTSIDE: "calipers, outside jaws",
    Instrument.CALIPER_INSIDE: "calipers, inside jaws",
    Instrument.MICROMETER: "micrometer",
    Instrument.DRILL_SHANK: "drill shanks",
    Instrument.TAPER_GAUGE: "taper gauge",
    Instrument.RULE: "rule",
    Instrument.TAPE: "tape",
    Instrument.MULTIMETER: "multimeter",
    Instrument.LOOK: "looking",
    Instrument.LISTING: "a listing",
}
VERDICTS: Mapping[Verdict, tuple[str, str]] = {
    Verdict.BOLTS_ON: ("✓", "Bolts on"),
    Verdict.FITS_WITH_WORK: ("+", "Fits with work"),
    Verdict.UNCERTAIN: ("?", "Uncertain: measure more"),
    Verdict.DOES_NOT_FIT: ("✗", "Does not fit"),
}
STATUSES: Mapping[Status, tuple[str, str]] = {
    Status.AGREES: ("✓", "agrees"),
    Status.DIFFERS: ("✗", "differs"),
    Status.NOT_MEASURED: ("○", "not measured"),
    Status.NOT_LISTED: ("·", "not listed"),
}
EVIDENCE: Mapping[str, str] = {
    "marking": "The marking",
    "known_number": "The known number",
    "engine": "The engine",
}

LEAST_SAID = 0.01  # chances nearer to 0 or 1 are not told apart; own choice

# From this fit confidence on it is said so; own choice of words, the ends at the limits of the verdicts.
CHANCES: Sequence[tuple[float, str]] = (
    (0.95, "as good as certain"),
    (0.80, "likely"),
    (0.50, "more likely than not"),
    (0.20, "doubtful"),
    (0.05, "unlikely"),
    (0.0, "next to no chance"),
)
# From this expected gain on [bit] a measurement is said to settle so much; own choice of words.
GAINS: Sequence[tuple[float, str]] = ((0.5, "settles a lot"), (0.1, "helps"), (0.0, "helps a little"))


def say_level(number: float, levels: Sequence[tuple[float, str]]) -> str:
    """Return the words of the highest level that a number reaches."""
    return next(words for least, words in levels if number >= least)


def say_key(key: str) -> str:
    """Return a choice, a need or another key as words: `blade_6_3` is "blade 6.3"."""
    return re.sub(r"(?<=\d)_(?=\d)", ".", key).replace("_", " ")


def say_percent(chance: float) -> str:
    """Return a probability in whole per cent; never quite 0 or 100, since no estimate is that sure."""
    if chance < LEAST_SAID:
        return f"under 1{THIN}%"
    if chance > 1 - LEAST_SAID:
        return f"over 99{THIN}%"
    return f"{chance * 100:.0f}{THIN}%"


def say_number(number: float, decimals: int) -> str:
    """Return a number with so many decimals and a true minus."""
    text = f"{number:.{decimals}f}"
    return text.replace("-", MINUS) if float(text) else text.replace("-", "")


def say_difference(number: float) -> str:
    """Return a difference with its sign, to a thousandth, without idle zeros."""
    text = say_number(number, 3)
    text = text.rstrip("0").rstrip(".")
    return text if text.startswith(MINUS) or text == "0" else f"+{text}"


def decimals_for(plus_minus: float) -> int:
    """Return how many decimals show two figures of an uncertainty: 0.2 is 0.20, 0.054 is 0.054."""
    return 2 if plus_minus <= 0 else min(4, max(0, 1 - floor(log10(plus_minus))))


def say_value(dimension: Dimension, raw: Any) -> str:
    """Return a value, as it goes out by the machine interface, for people."""
    if raw is None:
        return NOTHING
    if isinstance(raw, bool):
        return "yes" if raw else "no"
    if isinstance(raw, Mapping):
        if dimension.kind is Kind.COUNT:
            return str(raw["value"])
        decimals = decimals_for(raw["plus_minus"])
        value, plus_minus = say_number(raw["value"], decimals), say_number(raw["plus_minus"], decimals)
        return f"{value}{UNITS[raw['unit']]} ±{THIN}{plus_minus}"
    if isinstance(raw, str):
        return say_key(raw) if dimension.choices else raw
    return ", ".join(say_key(item) if dimension.choices else item for item in raw) or "none"


def say_inches(dimension: Dimension, raw: Any) -> str:
    """Return a length in inches, or nothing for what is no length."""
    if dimension.kind is not Kind.LENGTH or not isinstance(raw, Mapping):
        return ""
    decimals = decimals_for(raw["plus_minus"] / MM_PER_INCH)
    return f"{say_number(raw['value'] / MM_PER_INCH, decimals)}{THIN}in"


def say_allowance(unit: str, ends: Sequence[float | None] | None) -> str:
    """Return how far a candidate's value may be off, candidate minus removed."""
    if ends is None:
        return NOTHING
    low, high = ends
    tail = UNITS[unit]
    if low is None and high is None:
        return "any"
    if low is None:
        return f"up to {say_difference(high or 0.0)}{tail}"
    if high is None:
        return f"from {say_difference(low)}{tail} up"
    return f"{say_difference(low)} to {say_difference(high)}{tail}"
