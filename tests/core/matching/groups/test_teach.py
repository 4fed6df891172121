"""What a division of the parts teaches of errors, scatter, relatives and new designs."""

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from fitworth.matching.groups.cells import Cells
from fitworth.matching.groups.learned import Learned
from fitworth.matching.groups.likeness import design_ratios
from fitworth.matching.groups.partition import NO_KIN, Kin, settle
from fitworth.matching.groups.teach import keeping_shares, learn_again
from fitworth.matching.parameters import FitModel

MODEL = FitModel()
Taught = Callable[..., Learned]
U_MM = 0.03


def cells(*rows: tuple[float, ...]) -> Cells:
    value = np.array(rows, np.float64)
    return Cells(value, np.where(np.isnan(value), 0.0, U_MM))


def taught_by(parts: Cells, labels: list[int], learned: Learned, model: FitModel = MODEL) -> Learned:
    return learn_again(parts, settle(parts, np.array(labels), learned, NO_KIN), learned, model)


@pytest.mark.parametrize(("n_parts", "n_groups"), [(400, 66), (400, 20), (1000, 50), (60, 30), (100, 60)])
def test_the_concentration_makes_so_many_tables_usual(taught: Taught, n_parts: int, n_groups: int) -> None:
    silent = cells(*[(math.nan,)] * n_parts)
    learned = taught_by(silent, [row % n_groups for row in range(n_parts)], taught("throttle_bore"))
    expected = sum(learned.concentration / (learned.concentration + seated) for seated in range(n_parts))
    assert expected == pytest.approx(n_groups, rel=0.03)


def test_the_concentration_is_bounded_where_all_are_one_or_each_is_one(taught: Taught) -> None:
    silent = cells(*[(math.nan,)] * 40)
    assert taught_by(silent, [0] * 40, taught("throttle_bore")).concentration == 0.5
    assert 40.0 <= taught_by(silent, list(range(40)), taught("throttle_bore")).concentration <= 400.0


def test_slips_are_counted_and_drawn_to_the_first_guess(taught: Taught) -> None:
    parts = cells((16.0,), (16.0,), (16.0,), (19.0,), (22.0,), (22.0,), (22.0,), (22.05,))
    learned = taught_by(parts, [0, 0, 0, 0, 1, 1, 1, 1], taught("throttle_bore"))
    weigh = MODEL.error_count
    assert learned.gross == pytest.approx((weigh * MODEL.gross_error_share + 1) / (weigh + 8))
    assert learned.wrong == pytest.approx(MODEL.choice_error_share)


def test_two_cells_that_differ_do_not_tell_which_is_the_slip(taught: Taught) -> None:
    learned = taught_by(cells((16.0,), (19.0,), (22.0,)), [0, 0, 1], taught("throttle_bore"))
    assert learned.gross == pytest.approx(MODEL.gross_error_share)


def test_wrong_words_are_counted_by_themselves(taught: Taught) -> None:
    codes = Cells(np.array([[0.0], [0.0], [0.0], [1.0], [2.0]]), np.zeros((5, 1)))
    learned = taught_by(codes, [0] * 5, taught("choke_type"))
    weigh = MODEL.error_count
    assert learned.wrong == pytest.approx((weigh * MODEL.choice_error_share + 2) / (weigh + 5))
    assert learned.gross == pytest.approx(MODEL.gross_error_share)


def test_the_scatter_is_what_strays_about_the_centre_above_the_readings_noise(taught: Taught) -> None:
    sizes = np.array([22.0, 22.2, 21.9, 22.1, 21.8, 22.0])
    learned = taught_by(cells(*((size,) for size in sizes.tolist())), [0] * 6, taught("throttle_bore"))
    found = sizes.var(ddof=1) - U_MM**2
    weigh = MODEL.share_count
    assert learned.scatter[0] == pytest.approx(math.sqrt((weigh * 0.05**2 + 6 * found) / (weigh + 6)))
    assert learned.scatter[0] > 0.05


def test_however_alike_the_parts_some_scatter_is_left(taught: Taught) -> None:
    learned = taught_by(cells(*[(22.0,)] * 400), [0] * 400, taught("throttle_bore"))
    assert learned.scatter[0] == pytest.approx(MODEL.least_scatter * 0.05)


def test_groups_that_stray_most_may_be_two_designs_and_teach_no_scatter(taught: Taught) -> None:
    calm = [size + off for size in (16.0, 19.0, 22.0) for off in (-0.05, 0.0, 0.05)]
    wild = [24.0, 24.3, 24.6]
    parts = cells(*((size,) for size in (*calm, *wild)))
    with_wild = taught_by(parts, [0, 0, 0, 1, 1, 1, 2, 2, 2, 3, 3, 3], taught("throttle_bore"))
    without = taught_by(
        cells(*((size,) for size in calm)), [0, 0, 0, 1, 1, 1, 2, 2, 2], taught("throttle_bore")
    )
    assert with_wild.scatter[0] < 1.2 * without.scatter[0]


def test_relatives_are_counted_by_their_probability_and_drawn_to_the_first_guess(taught: Taught) -> None:
    first = taught("throttle_bore", "body_length")
    parts = cells(*[(16.0, 22.0)] * 3, *[(19.0, 22.0)] * 2, *[(24.0, 15.0)] * 2)
    kin = Kin(np.array([-1, 0, -1]), np.array([0.0, 0.7, 0.0]))
    partition = settle(parts, np.array([0, 0, 0, 1, 1, 2, 2]), first, kin)
    again = learn_again(parts, partition, first, MODEL)
    assert again.related == pytest.approx((MODEL.relative_count * 0.2 + 0.7) / (MODEL.relative_count + 3))
    centres = partition.gathered.centres
    same, changed = design_ratios(first, centres.of(slice(1, 2)), centres.of(slice(0, 1)))
    differs = 0.25 * changed / (0.75 * same + 0.25 * changed)
    assert differs[0, 0] > 0.5 > differs[0, 1]
    weigh = 2 * MODEL.share_count
    assert again.changes == pytest.approx((weigh * 0.25 + 0.7 * differs.sum()) / (weigh + 1.4))


def test_relatives_never_differ_in_much_more_than_at_first(taught: Taught) -> None:
    first = taught("throttle_bore", changes=0.05)
    parts = cells(*[(16.0,)] * 3, *[(24.0,)] * 3)
    kin = Kin(np.array([-1, 0]), np.array([0.0, 1.0]))
    partition = settle(parts, np.array([0, 0, 0, 1, 1, 1]), first, kin)
    model = replace(MODEL, share_count=0.1)
    assert learn_again(parts, partition, first, model).changes == pytest.approx(0.1)


def test_where_nobody_is_related_the_first_guess_of_changes_stays(taught: Taught) -> None:
    again = taught_by(cells((16.0,), (22.0,)), [0, 1], taught("throttle_bore"))
    assert again.changes == 0.25
    assert again.related == pytest.approx(MODEL.relative_count * 0.2 / (MODEL.relative_count + 2))


def test_sizes_of_the_designs_make_the_new_spreads_each_once(taught: Taught) -> None:
    parts = cells(*[(15.0,)] * 9, (24.0,), (24.0,))
    again = taught_by(parts, [0] * 9 + [1, 1], taught("throttle_bore"))
    often, rare = again.spreads[0].density([15.0, 24.0], 0.06)
    assert often == pytest.approx(rare, rel=0.05)


def test_shares_of_another_time_are_kept_and_the_scatter_is_not(taught: Taught) -> None:
    early = taught("throttle_bore", gross=0.4, wrong=0.3, concentration=9.0, related=0.1, changes=0.2)
    late = taught("throttle_bore", scatter=np.array([0.2]))
    kept = keeping_shares(late, early)
    assert (kept.gross, kept.wrong, kept.concentration, kept.related, kept.changes) == (
        0.4,
        0.3,
        9.0,
        0.1,
        0.2,
    )
    assert kept.scatter[0] == 0.2
    assert kept.spreads is late.spreads
