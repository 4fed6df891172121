"""What happens to a number between the part and the reader, and how probable that makes what was read.

A number is read from its first character to its last. Each character is read as it stands, found unreadable,
taken for a look-alike, overlooked, taken for any other, or exchanged with the next one; between two of them,
before the first and after the last, something may be read that is not there; and a prefix or suffix of
letters may be missing altogether. Every share is counted against the characters that are read as they stand,
so that each damage costs the same, minus its logarithm, wherever it happens: the weighted edit distance is
minus the log probability of the likeliest damage, less that of none.
"""

import math

from fitworth.matching.numbers.damage_model import ALPHABET, DamageModel
from fitworth.matching.numbers.text import UNREADABLE, list_stems

LEAST = 1e-300  # a probability below it is taken for it, since a logarithm of 0 is none
BAND = 8  # characters; the sum leaves out alignments further off the diagonal, which drop and add as many


class Damage:
    """Distances and likelihoods under one damage model.

    Attributes:
        model: the shares.
        unreadable: [nat] what a "?" costs.
        dropped: [nat] what a missing character costs.
        swapped: [nat] what an exchange of neighbours costs.
        different: [nat] what a plainly different character costs.
        added: [nat] what a character too many costs.
        prefix: [nat] what a missing prefix costs.
        suffix: [nat] what a missing suffix costs.
    """

    __slots__ = (
        "_costs",
        "_taken_for",
        "added",
        "different",
        "dropped",
        "model",
        "prefix",
        "suffix",
        "swapped",
        "unreadable",
    )

    def __init__(self, model: DamageModel) -> None:
        other = model.different / (ALPHABET - 1)
        self.model = model
        self.unreadable = -math.log(model.unreadable)
        self.dropped = -math.log(model.dropped)
        self.swapped = -math.log(model.swapped)
        self.different = -math.log(other)
        self.added = -math.log(model.added / (ALPHABET + 1))  # a scratch may be read as an unreadable one
        self.prefix = -math.log(model.prefix_dropped)
        self.suffix = -math.log(model.suffix_dropped)
        self._costs: dict[str, dict[str, float]] = {}
        for pair, share in model.confused:
            for one, taken_for in ((pair[0], pair[1]), (pair[1], pair[0])):
                self._costs.setdefault(one, {})[taken_for] = -math.log(share + other)
        self._taken_for: dict[str, float] = {}
        for pair, share in model.confused:
            for character in pair:
                self._taken_for[character] = self._taken_for.get(character, 0.0) + share

    def exchange(self, read: str, stored: str) -> float:
        """Return what it costs that one character was read for another: 0 for the same; [nat]."""
        if read == UNREADABLE:
            return self.unreadable
        return 0.0 if read == stored else self._costs.get(read, {}).get(stored, self.different)

    def distance(self, read: str, stored: str) -> float:
        """Return the weighted edit distance of what was read from a stored number, both normalised; [nat].

        Optimal string alignment: no character is damaged twice. 0 only where both are the same and legible.

        Args:
            read: as `normalise` makes it.
            stored: the same.

        Returns:
            minus the log probability of the likeliest damage, less that of none; 0 or more.

        Examples:
            >>> DAMAGE.distance("70821B", "70821B")
            0.0
            >>> round(DAMAGE.distance("7?821B", "70821B"), 3)  # minus the logarithm of 0.05
            2.996
        """
        least = self._aligned(read, stored)
        if least and len(read) < len(stored):
            for stem, no_prefix, no_suffix in list_stems(stored):
                affixes = no_prefix * self.prefix + no_suffix * self.suffix
                if affixes < least:
                    least = min(least, affixes + self._aligned(read, stem))
        return least

    def similarity(self, read: str, stored: str) -> float:
        """Return how much a stored number is like what was read, 0 to 1; 1 only where they are the same.

        One less the share of the distance in that of a number of which every character is different. For one
        reading it falls as the distance rises, whatever the stored numbers' lengths.

        Args:
            read: as `normalise` makes it.
            stored: the same.
        """
        if not read:
            return 0.0
        return max(0.0, 1.0 - self.distance(read, stored) / (self.different * len(read)))

    def log_likelihood(self, read: str, stored: str) -> float:
        """Return log P(read | the part bears the stored number), both normalised; natural logarithm.

        Summed over all damages that lead from one to the other; over all readings it adds up to 1.

        Args:
            read: as `normalise` makes it.
            stored: the same.

        Returns:
            at least the logarithm of LEAST.
        """
        summed, ways = self._summed(read, stored), 1.0
        for stem, no_prefix, no_suffix in list_stems(stored):
            share = (self.model.prefix_dropped if no_prefix else 1.0) * (
                self.model.suffix_dropped if no_suffix else 1.0
            )
            summed += share * self._summed(read, stem)
            ways += share
        return math.log(max(LEAST, summed / ways))

    def _aligned(self, read: str, stored: str) -> float:
        """Return the distance without regard to prefix and suffix.

        What both begin with and end with is left out first: dropping costs the same everywhere, and so does
        adding, so that no alignment gains by passing over an equal first or last character.
        """
        if read == stored and UNREADABLE not in read:
            return 0.0
        start, end, stop = 0, len(read), len(stored)
        least = min(end, stop)
        while start < least and read[start] == stored[start] != UNREADABLE:
            start += 1
        while end > start and stop > start and read[end - 1] == stored[stop - 1] != UNREADABLE:
            end -= 1
            stop -= 1
        if end == start:
            return self.dropped * (stop - start)
        if stop == start:
            return self.added * (end - start)
        if end - start == stop - start == 1:
            return min(self.exchange(read[start], stored[start]), self.dropped + self.added)
        return self._least_cost(read[start:end], stored[start:stop])

    def _least_cost(self, read: str, stored: str) -> float:
        added, dropped, different = self.added, self.dropped, self.different
        before: list[float] = []
        row = [place * dropped for place in range(len(stored) + 1)]
        for i, character in enumerate(read):
            before, above = row, before
            left = (i + 1) * added
            row = [left]
            if character == UNREADABLE:
                costs, other = _NONE, self.unreadable
            else:
                costs, other = self._costs.get(character, _NONE), different
            for j, kept in enumerate(stored):
                best = before[j] if character == kept else before[j] + costs.get(kept, other)
                # Calls of `min` would take half the time of this loop.
                if left + dropped < best:  # noqa: PLR1730
                    best = left + dropped
                if before[j + 1] + added < best:  # noqa: PLR1730
                    best = before[j + 1] + added
                if i and j and character == stored[j - 1] != kept == read[i - 1]:
                    best = min(best, above[j - 1] + self.swapped)
                row.append(best)
                left = best
        return row[-1]

    def _summed(self, read: str, stored: str) -> float:
        """Return P(read | stored) without regard to prefix and suffix, by the forward recursion."""
        model, long = self.model, len(read)
        more = model.added / (ALPHABET + 1)
        on = 1.0 - model.added
        shares = self._shares(stored)
        reached = [[0.0] * (long + 1) for _ in range(len(stored) + 1)]
        reached[0][0] = 1.0
        below, above = BAND + max(0, len(stored) - long), BAND + max(0, long - len(stored))
        for i, row in enumerate(reached):
            for j in range(max(0, i - below), min(long, i + above) + 1):
                if j:
                    row[j] += row[j - 1] * more
                if i == len(stored) or not row[j]:
                    continue
                start = row[j] * on * shares[i]
                reached[i + 1][j] += start * model.dropped
                if j == long:
                    continue
                reached[i + 1][j + 1] += start * math.exp(-self.exchange(read[j], stored[i]))
                pair = stored[i : i + 2]
                if len(pair) > 1 and pair[0] != pair[1] and read[j : j + 2] == pair[::-1]:
                    reached[i + 2][j + 2] += start * model.swapped * on * shares[i + 1]
        return reached[-1][-1] * on

    def _shares(self, stored: str) -> list[float]:
        """Return for each character the probability that it is read as it stands."""
        model = self.model
        shares = [1.0] * len(stored)
        usual = 1.0 + model.unreadable + model.dropped + model.different
        for i in range(len(stored) - 1, -1, -1):
            whole = usual + self._taken_for.get(stored[i], 0.0)
            if i + 1 < len(stored) and stored[i + 1] != stored[i]:
                whole += model.swapped * (1.0 - model.added) * shares[i + 1]
            shares[i] = 1.0 / whole
        return shares


_NONE: dict[str, float] = {}
DAMAGE = Damage(DamageModel())
