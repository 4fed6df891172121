"""The exact answer to a question about a world, as somebody would give it who knows how it was made.

`oracle(world, question)` gives the probability that each part on file fits and that none does; an `Oracle`
kept for a world answers many questions faster. beliefs.py says how.
"""

from dataclasses import dataclass

from tests.benchmarks.fit_quality.beliefs import Knower
from tests.benchmarks.fit_quality.draws import DRAWS, Trial
from tests.benchmarks.fit_quality.windows import Floats
from tests.benchmarks.fit_quality.worlds import Question, World


@dataclass(frozen=True, slots=True)
class Known:
    """The exact answer to a question.

    Attributes:
        fits: (n_parts,) probability that each part fits.
        none_fits: probability that none does, sampled.
        none_fits_error: standard error of that.
        not_on_file: probability that the removed part's design is not on file.
        groups: (n_groups,) probability of each group on file.
    """

    fits: Floats
    none_fits: float
    none_fits_error: float
    not_on_file: float
    groups: Floats


class Oracle:
    """Answers questions about one world exactly.

    Args:
        world: the world.
        by_group: whether removed parts are drawn by groups instead of by parts.
        draws: how many removed parts are tried for "no part fits".
    """

    def __init__(self, world: World, *, by_group: bool = False, draws: int = DRAWS) -> None:
        self._knower, self._draws = Knower(world, by_group=by_group), draws
        self._trial = Trial(self._knower)

    def answer(self, question: Question) -> Known:
        """Return the exact answer to a question."""
        belief = self._knower.believe(question)
        none = self._trial.none_fits(question, belief, self._draws)
        return Known(
            fits=self._knower.fits(question, belief),
            none_fits=none.probability,
            none_fits_error=none.error,
            not_on_file=float(belief.twins.sum() + belief.new.sum()),
            groups=belief.groups,
        )


def oracle(world: World, question: Question) -> tuple[Floats, float]:
    """Return the probability that each part on file fits, (n_parts,), and that none does."""
    known = Oracle(world).answer(question)
    return known.fits, known.none_fits
