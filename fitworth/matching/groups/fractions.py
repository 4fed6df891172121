"""How coarsely lengths were entered that are fractions of an inch.

A fraction is read as good to half of 1/64 in, but who reads a rule to 1/16 writes one in lowest terms too.
How many do shows in the whole catalogue: of lengths read to 1/64 in, half end in sixty-fourths, a quarter in
thirty-seconds and so on; whatever is more than that at the coarser end was read coarsely.
"""

from dataclasses import replace

import numpy as np

from fitworth.matching.allowances import Rule
from fitworth.matching.answer import Floats
from fitworth.matching.groups.cells import Cells
from fitworth.vocabulary import Kind

INCH_MM = 25.4
DENOMINATORS = (64, 32, 16, 8)  # the last stands for all coarser ones
ON_GRID_MM = 0.006  # single precision and two decimals of a millimetre
MOST_MM = 50_000.0  # beyond it single precision tells no fraction from its neighbours
LEAST_SHARE = 0.1  # of lengths that are fractions, below which they may as well be chance; own choice
FEWEST_SIZES = 24  # different ones; fewer are names of sizes, as 1/2 in (12.7 mm) is of a reach. Own choice


def coarse_u(cells: Cells, rules: tuple[Rule, ...]) -> Floats:
    """Return the standard uncertainty of each cell as a fraction of an inch, (n_parts, n_dims) [mm].

    It is 0 where a cell is none, and where too few sizes are on file to show how they were read. A cell
    read to a step s has s / sqrt(12), and which step it was read to follows from its denominator by Bayes'
    rule.

    Args:
        cells: what the parts list.
        rules: of the dimensions.
    """
    found = np.zeros_like(cells.value)
    lengths = np.array([rule.dimension.kind is Kind.LENGTH for rule in rules], np.bool_)
    listed = cells.listed & lengths
    sixty_fourths = np.where(listed & (cells.value < MOST_MM), cells.value, 0.0) / INCH_MM * DENOMINATORS[0]
    whole = np.round(sixty_fourths)
    fraction = listed & (np.abs(sixty_fourths - whole) < ON_GRID_MM / INCH_MM * DENOMINATORS[0]) & (whole > 0)
    sizes = np.unique(np.stack((np.nonzero(fraction)[1], whole[fraction])), axis=1).shape[1]
    if fraction.sum() < LEAST_SHARE * max(int(listed.sum()), 1) or sizes < FEWEST_SIZES:
        return found
    place = np.zeros(whole.shape, np.int64)
    for step in (2, 4, 8):
        place += (whole.astype(np.int64) % step) == 0
    share = np.bincount(place[fraction], minlength=len(DENOMINATORS)) / int(fraction.sum())
    # Rows: read to 1/64, 1/32, 1/16, 1/8 in; columns: the denominators that then appear.
    appears = np.array(
        [[0.5, 0.25, 0.125, 0.125], [0.0, 0.5, 0.25, 0.25], [0.0, 0.0, 0.5, 0.5], [0, 0, 0, 1.0]]
    )
    read_to = np.zeros(len(DENOMINATORS))
    for step in range(len(DENOMINATORS)):
        left = share[step] - float(read_to @ appears[:, step])
        read_to[step] = max(left, 0.0) / appears[step, step]
    read_to /= read_to.sum()
    joint = read_to[:, None] * appears
    steps_mm = INCH_MM / np.array(DENOMINATORS, np.float64)
    variance = (joint * (steps_mm**2 / 12.0)[:, None]).sum(axis=0) / np.maximum(joint.sum(axis=0), 1e-300)
    found[fraction] = np.sqrt(variance)[place[fraction]]
    return found


def with_coarse(cells: Cells, coarse: Floats) -> Cells:
    """Return the cells with fractions of an inch as coarse as they were entered.

    Args:
        cells: what the parts list.
        coarse: of each cell, 0 where it is no fraction.
    """
    return replace(cells, u=np.maximum(cells.u, coarse))
