"""A candidate's own listing beside a measurement, whatever its group says."""

from collections.abc import Callable

import numpy as np
import pytest

from fitworth.matching.allowances import rules_of
from fitworth.matching.answer import Floats
from fitworth.matching.catalogue import UNKNOWN_CODE, Catalogue
from fitworth.matching.own_listing import code_seen, listed_agreement
from fitworth.matching.parameters import FitModel
from fitworth.quantities.quantity import Quantity, Value

MODEL = FitModel()
Filled = Callable[..., Catalogue]
Mm = Callable[..., Quantity]


def agreement(
    catalogue: Catalogue, measured: dict[str, Value], usual: float = 0.3, maker: str | None = None
) -> dict[str, Floats]:
    rules, _ = rules_of(catalogue.family, measured, MODEL)
    rows = np.arange(len(catalogue))
    return listed_agreement(catalogue, rules, rows, maker, dict.fromkeys(measured, usual), MODEL)


def test_what_is_not_listed_is_neither(filled: Filled, mm: Mm) -> None:
    found = agreement(
        filled({"throttle_bore": mm(19.0)}, {}), {"throttle_bore": mm(19.0), "bowl_depth": mm(47.0)}
    )
    assert found["throttle_bore"][0] > 0.9
    assert np.isnan(found["throttle_bore"][1])
    assert np.isnan(found["bowl_depth"]).all()


def test_only_what_was_measured_is_compared(filled: Filled, mm: Mm) -> None:
    catalogue = filled({"throttle_bore": mm(19.0), "bowl_depth": mm(47.0)})
    assert set(agreement(catalogue, {"throttle_bore": mm(19.0)})) == {"throttle_bore"}


def test_another_makers_scale_is_not_compared(filled: Filled) -> None:
    five = Quantity(5.0, "1", 0.0, "5")
    catalogue = filled({"heat_range": five}, {"heat_range": five}, makers=["Quillon", "Vennor"])
    found = agreement(catalogue, {"heat_range": five}, maker="Vennor")["heat_range"]
    assert np.isnan(found).tolist() == [True, False]
    assert np.isnan(agreement(catalogue, {"heat_range": five})["heat_range"]).all()


def test_a_word_agrees_by_bayes_with_wrong_entries_on_either_side(filled: Filled) -> None:
    catalogue = filled({"choke_type": "none"}, {"choke_type": "manual_cable"})
    found = agreement(catalogue, {"choke_type": "none"}, usual=0.3)["choke_type"]
    wrong = 1.0 - (1.0 - MODEL.choice_error_share) ** 2
    assert found.tolist() == pytest.approx([1.0 - wrong * 0.7, wrong * 0.3])


def test_a_word_on_no_file_agrees_with_none(filled: Filled) -> None:
    catalogue = filled({"pattern": "a"})
    rules, _ = rules_of(catalogue.family, {"pattern": "b"}, MODEL)
    rule = next(rule for rule in rules if rule.dimension.key == "pattern")
    assert code_seen(catalogue, rule) == UNKNOWN_CODE
    assert agreement(catalogue, {"pattern": "b"})["pattern"][0] < 0.05


def test_a_number_within_the_allowance_agrees_and_one_far_out_is_a_slip_at_best(
    filled: Filled, mm: Mm
) -> None:
    sizes = (19.0, 19.8, 22.0, 26.0, 190.0)
    found = agreement(filled(*({"throttle_bore": mm(size)} for size in sizes)), {"throttle_bore": mm(19.0)})
    chances = found["throttle_bore"]
    assert (chances[:2] > 0.95).all()
    assert (chances[2:] < 0.3).all()  # what is left is a slip, and then any two agree as usual


def test_agreement_falls_with_the_difference(filled: Filled, mm: Mm) -> None:
    sizes = np.linspace(19.0, 21.0, 21)
    found = agreement(
        filled(*({"throttle_bore": mm(float(size))} for size in sizes)), {"throttle_bore": mm(19.0)}
    )
    assert (np.diff(found["throttle_bore"]) <= 1e-9).all()
