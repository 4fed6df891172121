"""What people say of two parts, in the groups that the parts fall into."""

from collections.abc import Callable, Mapping, Sequence

import numpy as np
import pytest

from fitworth.matching.catalogue import Catalogue
from fitworth.matching.groups.estimate import groups_of
from fitworth.matching.groups.membership import Groups
from fitworth.matching.groups.ties import (
    NO_TIES,
    TieModel,
    Ties,
    add_tied_partners,
    merge_odds,
    ties_of,
    weigh_ties,
)
from fitworth.matching.parameters import FitModel
from fitworth.quantities.quantity import Quantity, Value

Filled = Callable[..., Catalogue]
Length = Callable[..., Quantity]
Sheets = Callable[..., list[dict[str, Value]]]
LOG_19 = float(np.log(19.0))


def say(
    one: Mapping[tuple[int, int], float], two: Sequence[tuple[int, int]] = (), apart: float = -3.0
) -> Ties:
    """Return ties by rows; the figures are log odds."""
    pairs = [np.array([*some], np.int64).reshape(-1, 2) for some in (one, two)]
    return Ties(pairs[0], np.array([*one.values()]), pairs[1], apart)


@pytest.fixture
def sheets(mm: Length) -> Sheets:
    """Twelve sheets of four designs, and two half-empty ones, 13 and 14, that share the choke alone."""

    def write(**changed: Value) -> list[dict[str, Value]]:
        whole: list[dict[str, Value]] = [
            {
                "throttle_bore": mm(15.0 + 3.0 * design),
                "bolt_spacing": mm(38.0 + 4.0 * design),
                "body_length": mm(52.0 + 5.0 * design),
                "bowl_depth": mm(40.0 + 3.0 * design),
                "choke_type": ("manual_lever", "manual_cable", "none")[design % 3],
            }
            for design in range(4)
            for _ in range(3)
        ]
        first: dict[str, Value] = {"choke_type": "manual_lever", "bolt_spacing": mm(48.0)}
        second: dict[str, Value] = {"choke_type": "manual_lever", "throttle_bore": mm(22.5)}
        return [*whole, first, second | changed]

    return write


def together(groups: Groups, first: int = 13, second: int = 14) -> bool:
    labels = groups.partition.labels
    return bool(labels[first - 1] == labels[second - 1])


def grouped(catalogue: Catalogue) -> Groups:
    return groups_of(catalogue, FitModel())


def test_parts_that_are_not_on_file_are_passed_over(filled: Filled) -> None:
    catalogue = filled({}, {})
    assert ties_of(catalogue) is NO_TIES
    catalogue.tie([(1, 7, 0.9), (2, 1, 0.95), (1, 1, 0.9)], [(8, 1), (1, 2)])
    ties = ties_of(catalogue)
    assert ties.one.tolist() == [[1, 0]]
    assert ties.odds.tolist() == pytest.approx([LOG_19])
    assert ties.two.tolist() == [[0, 1]]
    assert ties.apart == pytest.approx(np.log(0.02 / 0.98))


def test_no_statement_is_quite_sure_and_one_that_is_surely_wrong_says_nothing(filled: Filled) -> None:
    catalogue = filled({}, {}, {})
    catalogue.tie([(1, 2, 1.0), (1, 3, 0.0)])
    sure, wrong = ties_of(catalogue, TieModel(surest=0.95)).odds.tolist()
    assert sure == pytest.approx(LOG_19)
    assert -30.0 < wrong < -20.0


def test_a_tie_is_a_floor_under_the_weight_of_a_group() -> None:
    labels = np.array([0, 1, 1, -1])
    logs = np.log(np.array([[1e-300, 2.0], [1.0, 1.0], [1.0, 2.0]]))
    before = logs.copy()
    ties = say({(0, 1): LOG_19, (2, 0): -9.0, (3, 1): 1.0, (1, 3): 1.0, (0, 2): 2.0})
    weigh_ties(logs, ties, np.array([0, 1, 3]), labels, 2.0)
    assert logs[0, 1] == pytest.approx(LOG_19 + np.log(2.0))  # the surer of two ties to one group
    assert logs[1, 0] == pytest.approx(LOG_19 + np.log(2.0))
    assert logs[2, 1] == pytest.approx(1.0 + np.log(2.0))  # its partner is in no group yet, it is
    assert logs[2, 0] == before[2, 0]
    assert logs[1, 1] == before[1, 1]
    weigh_ties(logs, say({(0, 1): -9.0}), np.array([0]), labels, 2.0)
    assert logs[0, 1] == pytest.approx(LOG_19 + np.log(2.0))  # a weak one lifts nothing


def test_a_finding_of_two_designs_lowers_the_weight_each_time() -> None:
    logs = np.zeros((2, 2))
    weigh_ties(logs, say({}, [(0, 1), (2, 0), (0, 3)]), np.array([0, 2]), np.array([0, 1, 1, -1]), 2.0)
    assert logs.tolist() == [[0.0, -6.0], [-3.0, 0.0]]


def test_without_ties_nothing_is_touched() -> None:
    partners, sizes = np.array([[1], [0]]), np.zeros((2, 1))
    labels = np.array([0, 1])
    weigh_ties(sizes, NO_TIES, np.array([0]), labels, 2.0)
    assert add_tied_partners(partners, NO_TIES, labels) is partners
    assert merge_odds(sizes, NO_TIES, labels, partners) is sizes
    assert sizes.tolist() == [[0.0], [0.0]]


def test_groups_that_are_tied_look_at_each_other() -> None:
    labels = np.array([0, 0, 1, 2, -1])
    ties = say({(0, 2): 3.0, (1, 3): 2.0, (0, 1): 9.0, (0, 4): 9.0})
    partners = add_tied_partners(np.array([[1], [2], [1], [0]]), ties, labels)
    assert partners.tolist() == [[1, 1], [2, 0], [1, 0], [0, 3]]
    odds = merge_odds(np.full((4, 2), -1.0), ties, labels, partners)
    assert odds[:3].tolist() == [[3.0, 3.0], [-1.0, 3.0], [-1.0, 2.0]]
    apart = merge_odds(np.full((4, 2), -1.0), say({}, [(2, 0), (1, 2), (4, 0)]), labels, partners)
    assert apart[:3].tolist() == [[-7.0, -7.0], [-1.0, -7.0], [-1.0, -1.0]]


def test_two_half_empty_sheets_are_one_group_once_that_is_stated(filled: Filled, sheets: Sheets) -> None:
    catalogue = filled(*sheets())
    before = grouped(catalogue)
    assert not together(before)
    catalogue.tie([(14, 13, 0.9)])
    tied = grouped(catalogue)
    assert together(tied)
    assert tied.partition.labels[:12].reshape(4, 3).std(axis=1).tolist() == [0.0] * 4
    assert float(tied.alone[12]) < float(before.alone[12]) - 0.1
    catalogue.tie([])
    assert not together(grouped(catalogue))


def test_dimensions_that_contradict_outweigh_a_weak_statement(
    filled: Filled, sheets: Sheets, mm: Length
) -> None:
    for catalogue, is_one in (
        (filled(*sheets()), True),
        (filled(*sheets(bolt_spacing=mm(44.0), choke_type="none")), False),
    ):
        catalogue.tie([(13, 14, 0.8)])
        assert together(grouped(catalogue)) is is_one


def test_parts_that_somebody_found_to_be_two_designs_are_less_surely_one(
    filled: Filled, sheets: Sheets
) -> None:
    catalogue = filled(*sheets())
    assert together(grouped(catalogue), 1, 2)
    before = grouped(catalogue).alone[0]
    catalogue.tie([], [(1, 2), (1, 3)])
    assert grouped(catalogue).alone[0] > 10.0 * before
