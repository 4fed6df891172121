"""What numbers and engines say of groups, by what they say of parts."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from fitworth.matching.catalogue import Catalogue
from fitworth.matching.evidence import ENGINE, EvidenceRatio
from fitworth.matching.groups.cells import Cells
from fitworth.matching.groups.evidence import group_prior, named_shares, part_ratios
from fitworth.matching.groups.learned import Learned
from fitworth.matching.groups.likeness import Agreement
from fitworth.matching.groups.membership import Groups
from fitworth.matching.groups.partition import NO_KIN, settle

Taught = Callable[..., Learned]


def said(kind: str, *ratios: float, silent: tuple[int, ...] = ()) -> EvidenceRatio:
    ratio = np.array(ratios, np.float32)
    quiet = np.isin(np.arange(len(ratios)), silent)
    return EvidenceRatio(kind, np.ones(len(ratios), np.float32), ratio, quiet)


@pytest.fixture
def five(taught: Taught) -> Groups:
    """Two groups, of three parts and of two, with nothing in doubt."""
    parts = Cells(np.array([[16.0], [16.0], [16.0], [22.0], [22.0]]), np.full((5, 1), 0.03))
    labels = np.array([0, 0, 0, 1, 1])
    learned = taught("throttle_bore")
    return Groups(
        rules=learned.rules,
        cells=parts,
        partition=settle(parts, labels, learned, NO_KIN),
        member=np.stack((labels, 1 - labels), axis=1),
        member_share=np.tile([1.0, 0.0], (5, 1)),
        alone=np.zeros(5),
        exists=np.ones(2),
        origin=np.arange(2),
        usual=Agreement(np.array([0.5]), np.array([0.5])),
        ids=np.arange(1, 6),
        entered=parts,
    )


def test_where_nothing_is_said_a_group_weighs_its_share_of_the_parts(five: Groups) -> None:
    prior = group_prior(five, ())
    assert prior.group == pytest.approx([0.6, 0.4])
    assert prior.lone.tolist() == [0.0, 0.0]


def test_a_part_that_may_be_of_two_groups_counts_for_both(five: Groups) -> None:
    shares = five.member_share.copy()
    shares[0] = [0.6, 0.2]
    alone = np.array([0.2, 0.0, 0.0, 0.0, 0.0])
    prior = group_prior(replace(five, member_share=shares, alone=alone), ())
    # Of the part's fifth, a fifth is that of a stray; what is left goes three to one.
    assert prior.group == pytest.approx([0.4 + 0.2 * 0.8 * 0.75, 0.4 + 0.2 * 0.8 * 0.25])
    assert prior.lone == pytest.approx([0.2 * 0.2, 0.0])


def test_priors_add_up_to_one_where_nothing_is_said(shelf: tuple[Catalogue, Groups]) -> None:
    prior = group_prior(shelf[1], ())
    assert prior.group.sum() + prior.lone.sum() == pytest.approx(1.0)


def test_a_part_that_is_a_group_by_itself_is_of_that_groups_design(five: Groups, taught: Taught) -> None:
    labels = np.array([0, 0, 0, 1, 2])
    partition = settle(five.cells, labels, taught("throttle_bore"), NO_KIN)
    lonely = replace(five, partition=partition, alone=np.array([0.0, 0.0, 0.0, 0.9, 0.8]))
    prior = group_prior(lonely, ())
    assert prior.group == pytest.approx([0.6, 0.2, 0.2])
    assert prior.lone.tolist() == [0.0, 0.0, 0.0]


def test_a_number_speaks_for_the_group_of_the_part_that_bears_it(five: Groups) -> None:
    prior = group_prior(five, [said("marking", 40.0, 0.5, 0.5, 0.5, 0.5)])
    assert prior.group == pytest.approx([41.0 / 5.0, 1.0 / 5.0])


def test_an_engine_that_one_member_names_speaks_for_all_that_are_silent(five: Groups) -> None:
    engine = said(ENGINE, 1.0, 6.0, 2.0, 1.0, 1.0, silent=(0, 3, 4))
    assert part_ratios(five, [engine]).tolist() == [6.0, 6.0, 6.0, 1.0, 1.0]


def test_where_every_listing_names_another_engine_the_group_is_less_likely(five: Groups) -> None:
    engine = said(ENGINE, 1.0, 1.0, 1.0, 0.2, 0.3, silent=(0, 1, 2))
    assert part_ratios(five, [engine])[3:] == pytest.approx([0.3, 0.3])


def test_pieces_of_evidence_multiply(five: Groups) -> None:
    both = [
        said("marking", 4.0, 0.5, 0.5, 0.5, 0.5),
        said(ENGINE, 3.0, 1.0, 1.0, 1.0, 1.0, silent=(1, 2, 3, 4)),
    ]
    assert part_ratios(five, both) == pytest.approx([12.0, 1.5, 1.5, 0.5, 0.5])


def test_an_engine_names_no_part(five: Groups) -> None:
    named = named_shares(five, [said(ENGINE, 9.0, 1.0, 1.0, 1.0, 1.0)], np.array([0, 3]), np.array([0, 1]))
    assert named.share.tolist() == [[0.0, 0.0], [0.0, 0.0]]


def test_a_part_named_by_its_number_runs_for_itself(five: Groups) -> None:
    number = said("marking", 40.0, 0.5, 0.5, 0.5, 0.5)
    named = named_shares(five, [number], np.array([0, 1, 3]), np.array([1, 0]))
    # Of the group's 41, one would be there without the number.
    assert named.share == pytest.approx(np.array([[0.0, 39.0 / 41.0], [0.0, 0.0], [0.0, 0.0]]))
    runs = named.lift(np.full((3, 2), 0.5))
    assert runs == pytest.approx(np.array([[0.5, 1.0 - 0.5 * 2.0 / 41.0], [0.5, 0.5], [0.5, 0.5]]))
