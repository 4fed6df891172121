"""Where each part lies in a catalogue: sorted numbers for the many, a dictionary for what changed since."""

from collections.abc import Iterable

import numpy as np

from fitworth.matching.answer import Ints

MERGE_AT = (
    50_000  # changes; own choice: a merge sorts everything, a dictionary weighs about 100 bytes an entry
)
NOWHERE = -1


class IdIndex:
    """The row of each id; 16 bytes for each part once merged."""

    def __init__(self) -> None:
        self._ids: Ints = np.empty(0, np.int64)
        self._rows: Ints = np.empty(0, np.int64)
        self._recent: dict[int, int] = {}

    def find(self, ids: Ints) -> Ints:
        """Return the rows of ids, NOWHERE for those that are not there."""
        rows = np.full(len(ids), NOWHERE, np.int64)
        if len(self._ids):
            places = np.minimum(np.searchsorted(self._ids, ids), len(self._ids) - 1)
            rows = np.where(self._ids[places] == ids, self._rows[places], NOWHERE)
        if self._recent:
            for place, wanted in enumerate(ids.tolist()):
                rows[place] = self._recent.get(wanted, rows[place])
        return rows

    def put(self, ids: Ints, rows: Ints) -> None:
        """Say where ids lie from now on, NOWHERE for those that went."""
        self._recent.update(zip(ids.tolist(), rows.tolist(), strict=True))
        if len(self._recent) >= MERGE_AT:
            self._merge(self._recent.items())

    def _merge(self, recent: Iterable[tuple[int, int]]) -> None:
        changed = np.array(list(recent), np.int64)
        kept = ~np.isin(self._ids, changed[:, 0])
        changed = changed[changed[:, 1] != NOWHERE]
        ids = np.concatenate((self._ids[kept], changed[:, 0]))
        rows = np.concatenate((self._rows[kept], changed[:, 1]))
        order = np.argsort(ids)
        self._ids, self._rows, self._recent = ids[order], rows[order], {}
