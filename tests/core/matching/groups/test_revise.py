"""The groups after a few parts changed, against what is plain of them and against grouping all anew."""

from collections.abc import Callable, Sequence

import numpy as np
import pytest

from fitworth.matching.answer import FitQuery
from fitworth.matching.catalogue import Catalogue
from fitworth.matching.fit import find_fits
from fitworth.matching.groups import estimate as estimating
from fitworth.matching.groups import revise as revising
from fitworth.matching.groups.estimate import groups_of
from fitworth.matching.groups.query import representatives
from fitworth.matching.groups.revise import revise
from fitworth.matching.parameters import FitModel
from fitworth.quantities.quantity import Quantity, Value

MODEL = FitModel()
Sheet = dict[str, Value]
Sheets = Callable[..., list[Sheet]]
CatalogueOf = Callable[[Sequence[Sheet]], Catalogue]
Length = Callable[..., Quantity]


@pytest.fixture
def forty(catalogue_of: CatalogueOf, sheets: Sheets) -> Catalogue:
    """Twenty parts of each of two designs, ids 1 to 40, and one part of a third, id 41."""
    return catalogue_of([*sheets(0, 20), *sheets(1, 20), *sheets(2, 1, holes=0.0)])


def put(catalogue: Catalogue, part: int, sheet: Sheet) -> None:
    catalogue.upsert([part], [catalogue.layout.pack(sheet)], ["Quillon"], [()])


def label(catalogue: Catalogue, part: int) -> int:
    """Return the group of a part as the catalogue is now."""
    row = int(catalogue.rows_of([part])[0])
    return int(groups_of(catalogue, MODEL).partition.labels[row])


def test_where_many_parts_changed_all_are_grouped_anew(forty: Catalogue, sheets: Sheets) -> None:
    before = groups_of(forty, MODEL)
    for part, sheet in enumerate(sheets(2, 6, seed=3), start=50):
        put(forty, part, sheet)
    assert revise(forty, before, MODEL) is None
    assert groups_of(forty, MODEL).revised == 0


def test_changes_are_counted_until_all_are_grouped_anew(forty: Catalogue, sheets: Sheets) -> None:
    groups_of(forty, MODEL)
    counted = []
    for part, sheet in enumerate(sheets(0, 6, seed=3), start=50):
        put(forty, part, sheet)
        counted.append(groups_of(forty, MODEL).revised)
    assert counted == [1, 2, 3, 4, 0, 1]


def test_a_dimension_that_nobody_listed_before_groups_all_anew(forty: Catalogue, sheets: Sheets) -> None:
    before = groups_of(forty, MODEL)
    put(forty, 50, {"vented": True})
    assert revise(forty, before, MODEL) is None


def test_other_statements_group_all_anew(forty: Catalogue) -> None:
    before = groups_of(forty, MODEL)
    forty.tie([(1, 2, 0.9)])
    assert revise(forty, before, MODEL) is None


def test_where_nothing_changed_nothing_does(forty: Catalogue) -> None:
    before = groups_of(forty, MODEL)
    after = revise(forty, before, MODEL)
    assert after is not None
    assert after.partition.labels.tolist() == before.partition.labels.tolist()
    assert after.member_share.tolist() == before.member_share.tolist()
    assert (after.revised, after.alone.tolist()) == (0, before.alone.tolist())


def test_a_new_part_joins_the_design_that_it_lists(forty: Catalogue, sheets: Sheets) -> None:
    before = groups_of(forty, MODEL)
    put(forty, 50, sheets(1, 1, seed=7, holes=0.2)[0])
    after = groups_of(forty, MODEL)
    assert after.revised == 1
    assert label(forty, 50) == label(forty, 21)
    assert after.partition.labels[:41].tolist() == before.partition.labels.tolist()
    assert after.partition.learned is before.partition.learned
    assert after.alone[-1] < 0.2


def test_a_new_part_of_another_design_founds_a_group(forty: Catalogue, sheets: Sheets) -> None:
    before = groups_of(forty, MODEL)
    other = sheets(
        0, 1, holes=0.0, throttle_bore=30.0, bolt_spacing=60.0, body_length=80.0, pole_radius=110.0
    )
    put(forty, 50, other[0])
    after = groups_of(forty, MODEL)
    assert label(forty, 50) == len(before.partition.kin.parent)
    assert len(after.exists) == len(after.origin) == len(after.partition.kin.parent)
    assert after.member.shape == after.member_share.shape
    assert (after.member_share.sum(axis=1) + after.alone)[-1] == pytest.approx(1.0, abs=0.05)


def test_a_part_whose_sheet_was_mended_moves_to_its_design(forty: Catalogue, sheets: Sheets) -> None:
    assert label(forty, 5) == label(forty, 1)
    put(forty, 5, sheets(1, 1, seed=8, holes=0.1)[0])
    assert label(forty, 5) == label(forty, 21)
    assert label(forty, 1) != label(forty, 21)


def test_a_part_taken_out_takes_no_other_with_it(forty: Catalogue) -> None:
    first, second = label(forty, 2), label(forty, 40)
    forty.remove([1])  # the last row moves into its place
    after = groups_of(forty, MODEL)
    assert len(after.partition.labels) == 40
    assert {label(forty, part) for part in range(2, 21)} == {first}
    assert {label(forty, part) for part in range(21, 41)} == {second}


def test_a_group_that_lost_its_only_part_weighs_nothing(forty: Catalogue, mm: Length) -> None:
    lonely = label(forty, 41)
    assert lonely not in {label(forty, part) for part in range(1, 41)}
    query = FitQuery({"throttle_bore": mm(26.0), "bowl_depth": mm(52.0)})
    find_fits(forty, query)
    forty.remove([41])
    after = groups_of(forty, MODEL)
    assert after.partition.size[lonely] == 0
    answer = find_fits(forty, query)
    assert set(answer.hypotheses[1:].tolist()) <= set(range(1, 41))
    assert answer.weights.sum() == pytest.approx(1.0)
    assert np.isfinite(answer.fits_given).all()
    assert answer.nothing_on_file_fits > 0.9
    every = representatives(after, np.arange(len(after.exists)))
    labels = after.partition.labels
    assert [labels[row] == group for group, row in enumerate(every.tolist()) if group != lonely] == [True] * (
        len(every) - 1
    )


def test_a_huge_file_is_left_as_it_is_and_parts_are_still_compared(
    forty: Catalogue, mm: Length, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(estimating, "MOST_GROUPED", 30)
    groups = groups_of(forty, MODEL)
    assert groups.partition.labels.tolist() == list(range(41))
    assert (groups.alone == 1.0).all()
    query = FitQuery({key: mm(size) for key, size in (("throttle_bore", 16.0), ("bowl_depth", 40.0))})
    answer = find_fits(forty, query, MODEL)
    assert {fit.part_id for fit in answer.fits[:8]} <= set(range(1, 21))


def test_middling_files_are_swept_as_often_as_pays(forty: Catalogue, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(estimating, "LARGE", 30)
    labels = groups_of(forty, MODEL).partition.labels
    assert len(set(labels[:20].tolist())) == len(set(labels[20:40].tolist())) == 1
    assert labels[0] != labels[20]


def test_many_parts_changed_at_once_are_grouped_with_all_others(
    forty: Catalogue, mm: Length, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(revising, "MOST_REVISED", 1.0)
    groups_of(forty, MODEL)
    row = forty.layout.pack({"throttle_bore": mm(16.0), "bowl_depth": mm(40.0)})
    some = list(range(101, 103 + revising.MOST_IN_TURN))
    forty.upsert(some, [row] * len(some), ["Quillon"] * len(some), [()] * len(some))
    assert groups_of(forty, MODEL).revised == 0
