"""The table of entries as people type them: none may be read wrongly.

`value` and `half_width` are in the canonical unit. `oracle` says the same size in the words of pint, which
knows units but not this notation; `refused` is a phrase of the sentence that refuses the entry.
"""

import csv
from fractions import Fraction
from pathlib import Path

import pint
import pytest

from fitworth.errors import InvalidValueError
from fitworth.quantities.notation import read_number
from fitworth.quantities.units import CANONICAL
from fitworth.vocabulary import Kind

with (Path(__file__).parent / "readings.csv").open(encoding="utf-8", newline="") as file:
    ROWS = list(csv.DictReader(file))
REFUSED = [row for row in ROWS if row["refused"]]
READ = [row for row in ROWS if not row["refused"]]
REGISTRY: pint.UnitRegistry[Fraction] = pint.UnitRegistry(non_int_type=Fraction)
PINT_NAMES = {"mm": "mm", "deg": "degree", "ohm": "ohm", "uF": "uF", "1": "count"}


def test_the_table_has_at_least_three_hundred_entries_and_none_twice() -> None:
    assert len(ROWS) >= 300
    assert len({(row["kind"], row["input"]) for row in ROWS}) == len(ROWS)


@pytest.mark.parametrize("row", REFUSED, ids=lambda row: f"{row['kind']}-{row['input']}")
def test_an_entry_without_one_clear_meaning_is_refused_and_told_why(row: dict[str, str]) -> None:
    with pytest.raises(InvalidValueError) as refusal:
        read_number(row["input"], Kind(row["kind"]))
    assert row["refused"] in str(refusal.value)


@pytest.mark.parametrize("row", READ, ids=lambda row: f"{row['kind']}-{row['input']}")
def test_an_entry_is_read_as_it_was_meant(row: dict[str, str]) -> None:
    reading = read_number(row["input"], Kind(row["kind"]))
    assert float(reading.value) == float(row["value"])
    assert float(reading.half_width) == float(row["half_width"])


@pytest.mark.parametrize("row", READ, ids=lambda row: f"{row['kind']}-{row['input']}")
def test_the_table_itself_agrees_with_an_independent_library(row: dict[str, str]) -> None:
    amount, unit = row["oracle"].split()
    canonical = PINT_NAMES[CANONICAL[Kind(row["kind"])].symbol]
    oracle = REGISTRY.Quantity(Fraction(amount), unit).to(canonical)
    assert float(oracle.magnitude) == pytest.approx(float(row["value"]), rel=1e-15)
