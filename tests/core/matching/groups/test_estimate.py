"""The groups of small invented catalogues, where it is plain what they must be."""

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
import pytest

from fitworth.matching.catalogue import Catalogue
from fitworth.matching.groups.estimate import estimate, groups_of
from fitworth.matching.groups.membership import Groups
from fitworth.matching.parameters import FitModel
from fitworth.quantities.quantity import Quantity, Value

MODEL = FitModel()
Sheet = dict[str, Value]
Sheets = Callable[..., list[Sheet]]
CatalogueOf = Callable[[Sequence[Sheet]], Catalogue]
Length = Callable[..., Quantity]


def grouped(groups: Groups) -> list[set[int]]:
    """Return the groups as sets of rows, in the order of their first rows."""
    labels = groups.partition.labels
    found = [set(np.flatnonzero(labels == label).tolist()) for label in np.unique(labels).tolist()]
    return sorted(found, key=min)


def check(groups: Groups, parts: int) -> None:
    """Hold groups to what is so whatever the parts list."""
    labels = groups.partition.labels
    assert labels.shape == (parts,)
    assert sorted(set(labels.tolist())) == list(range(int(labels.max()) + 1))
    assert np.isfinite(groups.partition.gathered.centres.share).all()


@pytest.mark.parametrize(
    "parts",
    [
        [{}],
        [{}, {}],
        [{"stud_diameter": Quantity(6.0, "mm", 0.03, "6")}, {}, {}],
        [{"throttle_bore": Quantity(19.0, "mm", 0.03, "19")}],
        [
            {"throttle_bore": Quantity(19.0, "mm", 0.0, "19")},
            {"throttle_bore": Quantity(19.0, "mm", 0.0, "19")},
        ],
        [{"throttle_bore": Quantity(0.0, "mm", 0.0, "0")}, {}],
        [
            {"choke_type": "none"},
            {"vented": True},
            {"pattern": "three slots"},
            {"ports": frozenset({"vent"})},
        ],
        [{"throttle_bore": Quantity(19.0, "mm", 0.03, "19")}, {"choke_type": "none"}, {}],
        [{"fuel_inlet_hour": Quantity(hour, "1", 0.3, f"{hour}")} for hour in (0.0, 12.0, 6.0)],
        [{"heat_range": Quantity(5.0, "1", 0.0, "5")}],
    ],
    ids=["nothing", "nothing twice", "a note", "one", "exact", "nought", "words", "apart", "dial", "scale"],
)
def test_however_little_is_listed_there_are_groups(catalogue_of: CatalogueOf, parts: list[Sheet]) -> None:
    check(estimate(catalogue_of(parts), MODEL), len(parts))


def test_an_absurd_entry_stops_nothing(catalogue_of: CatalogueOf, sheets: Sheets) -> None:
    parts = [*sheets(0, 5), *sheets(1, 5)]
    parts[0]["body_length"] = Quantity(5.6e9, "mm", 0.03, "5.6e9")
    found = grouped(estimate(catalogue_of(parts), MODEL))
    assert set(range(5, 10)) in found
    assert {1, 2, 3, 4} in [group - {0} for group in found]


@pytest.mark.parametrize("holes", [0.0, 0.35, 0.5])
def test_clear_designs_with_holes_become_a_group_each(
    catalogue_of: CatalogueOf, sheets: Sheets, holes: float
) -> None:
    parts = [*sheets(0, 6, holes=holes), *sheets(1, 5, holes=holes), *sheets(2, 4, holes=holes)]
    groups = estimate(catalogue_of(parts), MODEL)
    assert grouped(groups) == [set(range(6)), set(range(6, 11)), set(range(11, 15))]


def test_numbers_alone_and_words_alone_are_grouped(catalogue_of: CatalogueOf, sheets: Sheets) -> None:
    numbers: list[Sheet] = [
        {key: value for key, value in sheet.items() if isinstance(value, Quantity)}
        for sheet in (*sheets(0, 6), *sheets(1, 6))
    ]
    assert grouped(estimate(catalogue_of(numbers), MODEL)) == [set(range(6)), set(range(6, 12))]
    patterns: list[Sheet] = [
        {"pattern": f"shape {design}", "choke_type": choke, "vented": bool(design % 2), "resistor": resistor}
        for design, choke, resistor in (
            (0, "none", "plain"),
            (1, "manual_cable", "resistor"),
            (2, "none", "resistor"),
        )
        for _ in range(6)
    ]
    check(estimate(catalogue_of(patterns), MODEL), 18)


def test_a_part_that_lists_nothing_may_be_of_any_group(catalogue_of: CatalogueOf, sheets: Sheets) -> None:
    parts = [*sheets(0, 6), {}, *sheets(1, 6)]
    groups = estimate(catalogue_of(parts), MODEL)
    together = [group - {6} for group in grouped(groups)]
    assert set(range(6)) in together
    assert set(range(7, 13)) in together


def test_a_near_twin_with_several_members_is_a_group_of_its_own(
    catalogue_of: CatalogueOf, sheets: Sheets
) -> None:
    twins = sheets(0, 6, seed=1, throttle_bore=19.0)
    parts = [*sheets(0, 8, holes=0.1), *twins, *sheets(1, 5), *sheets(2, 5)]
    labels = estimate(catalogue_of(parts), MODEL).partition.labels
    listed = [row for row in range(8) if "throttle_bore" in parts[row]]
    assert len(set(labels[listed].tolist())) == 1
    assert len(set(labels[8:14].tolist())) == 1
    assert labels[listed[0]] != labels[8]


def test_a_twin_is_the_relative_of_the_larger_design(catalogue_of: CatalogueOf, sheets: Sheets) -> None:
    parts = [
        *sheets(0, 8, holes=0.1),
        *sheets(0, 6, seed=1, throttle_bore=19.0),
        *sheets(1, 5),
        *sheets(2, 5),
    ]
    partition = estimate(catalogue_of(parts), MODEL).partition
    twin, whole, other = (int(partition.labels[row]) for row in (8, 0, 14))
    assert partition.kin.parent[twin] == whole
    assert partition.kin.share[twin] > 5.0 * partition.kin.share[other]
    assert partition.kin.share[twin] > 0.1


def test_a_gross_error_takes_nobody_out_of_a_group_of_several(
    catalogue_of: CatalogueOf, sheets: Sheets
) -> None:
    parts = [*sheets(0, 7, holes=0.1), *sheets(1, 6, holes=0.1), *sheets(2, 5, holes=0.1)]
    parts[2]["body_length"] = Quantity(65.5, "mm", 0.03, "65.5")  # 56.5 with two digits changed about
    parts[9]["choke_type"] = "none"
    found = [group - {2, 9} for group in grouped(estimate(catalogue_of(parts), MODEL))]
    # The two themselves may be slips or new relatives; they take nobody with them.
    assert [group for group in found if group] == [
        set(range(7)) - {2},
        set(range(7, 13)) - {9},
        set(range(13, 18)),
    ]


def test_one_catalogue_has_one_answer(catalogue_of: CatalogueOf, sheets: Sheets) -> None:
    parts = [*sheets(0, 6, holes=0.6), *sheets(1, 5, holes=0.6), *sheets(2, 4, holes=0.6)]
    one, other = (estimate(catalogue_of(parts), MODEL) for _ in range(2))
    assert one.partition.labels.tolist() == other.partition.labels.tolist()
    assert one.partition.learned.scatter.tolist() == other.partition.learned.scatter.tolist()
    assert one.partition.filled.share.tolist() == other.partition.filled.share.tolist()


def test_the_order_of_parts_makes_no_other_groups_of_clear_designs(
    catalogue_of: CatalogueOf, sheets: Sheets
) -> None:
    parts = [*sheets(0, 6), *sheets(1, 5), *sheets(2, 4)]
    order = np.random.default_rng(5).permutation(len(parts))
    shuffled = estimate(catalogue_of([parts[row] for row in order]), MODEL)
    found = sorted(sorted(int(order[row]) for row in group) for group in grouped(shuffled))
    assert found == [list(range(6)), list(range(6, 11)), list(range(11, 15))]


def test_groups_are_kept_until_parts_change_or_other_figures_are_asked_for(
    catalogue_of: CatalogueOf, sheets: Sheets
) -> None:
    parts = [*sheets(0, 3), *sheets(1, 3)]
    catalogue = catalogue_of(parts)
    first = groups_of(catalogue, MODEL)
    assert groups_of(catalogue, MODEL) is first
    assert groups_of(catalogue, replace(MODEL, not_on_file=0.3)) is first  # groups do not depend on it
    assert groups_of(catalogue, replace(MODEL, gross_error_share=0.1)) is not first
    catalogue.upsert([7], [catalogue.layout.pack(parts[0])], ["Quillon"], [()])
    after = groups_of(catalogue, MODEL)
    assert len(after.partition.labels) == 7
    assert after.partition.labels[6] == after.partition.labels[0]
    assert len(first.partition.labels) == 6
