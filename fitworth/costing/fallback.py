"""What to try next when an attempt fails: the cheapest remaining way, given what the failure has shown.

Parts of one interchange group fit or fail together, so a part that did not fit says much about the next one.
The belief over the removed part's design carries that: given that candidate 1 does not fit, candidate 2 fits
with sum_h w_h (1 - F[1,h]) F[2,h] / sum_h w_h (1 - F[1,h]).

Which chains are compared (own choice, exact for these): after a part that does not fit, one more part, or
saving the old one; after a cleaning in vain, a kit or up to two parts; after a kit in vain, up to two parts;
stopping at any point. A kit cures whatever cleaning cures, so after a cleaning in vain its chance is
(kit - clean) / (1 - clean).
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fitworth.costing.expected import Attempt, Chain, cost_chain
from fitworth.errors import Fault, InvalidValueError, raise_faults

FloatArray = NDArray[np.float64]
WEIGHTS_OFF = 1e-6  # how far the weights of the hypotheses may be from adding up to 1
SURE = 1e-12  # a chance of misfit below it is none: there is nothing to condition on


@dataclass(frozen=True, slots=True, eq=False)
class Belief:
    """The joint belief about the removed part's design and what fits it.

    Attributes:
        weights: probability of each hypothesis, (n_h,); the designs on file, and that it is none of them.
        fits_given: chance that each candidate fits under each hypothesis, (n_candidates, n_h).
    """

    weights: FloatArray
    fits_given: FloatArray

    def __post_init__(self) -> None:
        """Refuse arrays that are no probabilities or do not belong together."""
        faults = []
        one_row = self.weights.ndim == 1
        if not (one_row and bool(np.all(self.weights >= 0)) and abs(self.weights.sum() - 1) < WEIGHTS_OFF):
            faults.append(Fault("/weights", "the weights of the hypotheses must be from 0 and add up to 1"))
        if self.fits_given.ndim != 2 or self.fits_given.shape[1:] != self.weights.shape:  # noqa: PLR2004
            faults.append(
                Fault("/fits_given", "there must be one row a candidate and one column a hypothesis")
            )
        elif not bool(np.all((self.fits_given >= 0) & (self.fits_given <= 1))):
            faults.append(Fault("/fits_given", "chances must lie from 0 to 1"))
        raise_faults(faults)

    @property
    def fits(self) -> FloatArray:
        """The fit confidence of each candidate, (n_candidates,)."""
        return self.fits_given @ self.weights

    def fits_after_misfit(self) -> FloatArray:
        """Return the chance that candidate j (column) fits given that candidate i (row) does not.

        A candidate that did not fit does not fit the second time, whoever sells it.
        """
        misfit = (1 - self.fits_given) * self.weights
        reached = misfit.sum(axis=1)
        together = misfit @ self.fits_given.T
        conditional = np.where(
            reached[:, None] > SURE, together / np.maximum(reached, SURE)[:, None], self.fits[None, :]
        )
        np.fill_diagonal(conditional, 0.0)
        return conditional


@dataclass(frozen=True, slots=True)
class KitAttempt:
    """A rebuild with a kit: as a first attempt, and after a cleaning in vain."""

    alone: Attempt
    after_clean: Attempt


@dataclass(frozen=True, slots=True, eq=False)
class Ways:
    """All ways of a comparison besides stopping.

    Attributes:
        replacements: each with its candidate's row.
        belief: over the candidates.
        clean: or None where cleaning is no way.
        kits: the rebuild kits.
        stop_cost: gain forgone by stopping [currency], from 0.
    """

    replacements: tuple[Attempt, ...]
    belief: Belief
    clean: Attempt | None
    kits: tuple[KitAttempt, ...]
    stop_cost: float

    def __post_init__(self) -> None:
        """Refuse a replacement that no row of the belief speaks of."""
        rows = len(self.belief.fits_given)
        if any(way.candidate is None or way.candidate >= rows for way in self.replacements):
            raise InvalidValueError("each replacement must name its candidate's row of the belief")


def find_chains(ways: Ways) -> tuple[Chain, ...]:
    """Return the cheapest chain that begins with each way: cleaning, then the kits, then the replacements."""
    plain = _chain_replacements(ways, ())
    after_repair = _find_cheapest(plain, ways.stop_cost)
    saves = [(kit.alone,) for kit in ways.kits] + ([(ways.clean,)] if ways.clean else [])
    chains: list[Chain] = []
    if ways.clean:
        after_clean = [(kit.after_clean, *after_repair) for kit in ways.kits]
        chains.append((ways.clean, *_find_cheapest([after_repair, *after_clean], ways.stop_cost)))
    chains.extend((kit.alone, *after_repair) for kit in ways.kits)
    last_save = _find_cheapest(saves, ways.stop_cost)
    chains.extend(_chain_replacements(ways, last_save))
    return tuple(chains)


def _find_cheapest(chains: Sequence[Chain], stop_cost: float) -> Chain:
    """Return the cheapest of some chains and of stopping; the first of equals, stopping before all."""
    return min([(), *chains], key=lambda chain: cost_chain(chain, stop_cost))


def _chain_replacements(ways: Ways, last: Chain) -> list[Chain]:
    """Return the cheapest chain that begins with each replacement.

    Args:
        ways: of which only the replacements count here.
        last: what comes after a second part that does not fit either, or at once.
    """
    if not ways.replacements:
        return []
    end_cost = cost_chain(last, ways.stop_cost)
    rows = np.array([way.candidate for way in ways.replacements], dtype=np.intp)
    chances = ways.belief.fits_after_misfit()[np.ix_(rows, rows)]
    anyway, success, failure = (
        np.array([getattr(way, name) for way in ways.replacements])
        for name in ("paid_anyway", "paid_on_success", "paid_on_failure")
    )
    costs = anyway + chances * success + (1 - chances) * (failure + end_cost)
    chains: list[Chain] = []
    for i, second in enumerate(costs.argmin(axis=1)):
        first = ways.replacements[i]
        if costs[i, second] < end_cost:
            follower = replace(ways.replacements[second], chance=float(chances[i, second]))
            chains.append((first, follower, *last))
        else:
            chains.append((first, *last))
    return chains
