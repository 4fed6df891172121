"""Stored numbers, ready to be asked often, and kept up with one change at a time."""

from collections.abc import Iterable
from dataclasses import replace

import numpy as np

from fitworth.matching.numbers.block import Block
from fitworth.matching.numbers.characters import Characters
from fitworth.matching.numbers.damage import DAMAGE, Damage
from fitworth.matching.numbers.keys import MOST_UNREADABLE, list_waves
from fitworth.matching.numbers.ranking import NumberMatch, Ranking
from fitworth.matching.numbers.text import UNREADABLE, fold, normalise
from fitworth.matching.numbers.unfiled import Unfiled, scan

MOST_UNFILED = 5_000  # numbers; own choice: a scan of so few takes about as long as the keys do
GROWS = 8  # a block is filed anew once what came after it is an eighth of it; own choice


class NumberIndex:
    """Numbers with their bearers.

    The latest few are searched one by one; once they are many they are filed in a block, together with those
    blocks before that are not much larger. So one change costs little on the whole, whatever is on file.
    """

    def __init__(self, damage: Damage = DAMAGE, most_unfiled: int = MOST_UNFILED) -> None:
        """Begin with no number.

        Args:
            damage: how numbers are damaged.
            most_unfiled: when the latest numbers are filed.
        """
        self._damage = damage
        self._most_unfiled = most_unfiled
        self._characters = Characters()
        self._blocks: list[Block] = []
        self._unfiled = Unfiled()

    @property
    def filed_bytes(self) -> int:
        """How much memory the filed numbers take."""
        return sum(block.size_bytes for block in self._blocks)

    def add(self, entries: Iterable[tuple[int, str]]) -> None:
        """Add numbers.

        Args:
            entries: bearer, 0 or more, and number as written; one without letter and digit is passed over.
        """
        new = [(bearer, number, plain) for bearer, number in entries if (plain := normalise(number))]
        if not new:
            return
        self._characters.count([plain for _, _, plain in new])
        if len(self._unfiled) + len(new) < self._most_unfiled:
            self._unfiled.add(new)
            return
        self._file([*self._unfiled.list_alive(), *((bearer, number) for bearer, number, _ in new)])
        self._unfiled = Unfiled()

    def remove(self, bearers: Iterable[int]) -> None:
        """Remove all numbers of some bearers; those that bear none are passed over."""
        gone = np.unique(np.fromiter(bearers, np.int64))
        plains = self._unfiled.drop(gone.tolist())
        for block in self._blocks:
            plains += block.drop(gone)
        self._characters.count(plains, -1)
        self._blocks = [
            block if 2 * block.alive_count >= len(block) else Block(list(block.list_alive()))
            for block in self._blocks
            if block.alive_count
        ]

    def like(self, worn: str, limit: int) -> list[NumberMatch]:
        """Return the stored numbers most like what was read, nearest first; equal ones by their first bearer.

        All numbers within two damages are found: unreadable, confused, dropped, swapped, and as one of them a
        missing prefix or suffix.

        Args:
            worn: what can be read, "?" for each character that cannot.
            limit: how many at most, at least 1.
        """
        read = normalise(worn)
        unreadable = read.count(UNREADABLE)
        if len(read) == unreadable:
            return []
        ranking = Ranking(read, self._damage, limit)
        if unreadable > MOST_UNREADABLE:
            for block in self._blocks:
                ranking.see(block, block.expand(scan(read, list(map(fold, block.list_plains())), limit)))
        else:
            self._look_up(read, ranking)
        ranking.see(self._unfiled, self._unfiled.near(read, limit))
        return ranking.list_nearest()

    def weighed(self, worn: str, limit: int) -> list[NumberMatch]:
        """Return the stored numbers most like what was read, each with its likelihood ratio; see `like`."""
        read = normalise(worn)
        found = self.like(worn, limit)
        if not found:
            return []
        unfiled = self._characters.log_probability(read, self._damage.model.unreadable)
        return [
            replace(match, log_ratio=self._damage.log_likelihood(read, normalise(match.number)) - unfiled)
            for match in found
        ]

    def _look_up(self, read: str, ranking: Ranking) -> None:
        for wave in list_waves(read, self._damage):
            enough = ranking.has_any_within if wave.is_last_resort else ranking.has_all_within
            if self._blocks and not enough(wave.least):
                keys = wave.make_keys()
                for block in self._blocks:
                    ranking.see(block, block.find(keys), wave.least)

    def _file(self, entries: list[tuple[int, str]]) -> None:
        while self._blocks and len(self._blocks[-1]) < GROWS * len(entries):
            entries += self._blocks.pop().list_alive()
        entries.sort(key=lambda entry: entry[0])
        self._blocks.append(Block(entries))
