"""The numbers of each family, kept in memory and caught up with the database before each question."""

from collections.abc import Iterable

from api.services.call import Call
from db import parts as stored_parts
from fitworth.matching.evidence import NumberEvidence
from fitworth.matching.numbers import NumberIndex, NumberMatch

LIKE_NUMBERS = 25  # how many stored numbers are weighed as what a marking may have been; own choice
UNREAD = -1  # the revision of an index that has read nothing yet


class HeldNumbers:
    """An index for each family that was asked for. It has no lock of its own."""

    def __init__(self) -> None:
        self._indexes: dict[str, NumberIndex] = {}
        self._revisions: dict[str, int] = {}

    def caught_up(self, call: Call, family: str, revision: int) -> NumberIndex:
        """Return a family's index, brought to a revision by reading only what changed since its last.

        Args:
            call: the request's surroundings.
            family: its key.
            revision: nothing later is read; an index that is further already stays so.
        """
        index = self._indexes.setdefault(family, NumberIndex())
        held = self._revisions.get(family, UNREAD)
        if revision > held:
            changed = stored_parts.list_numbers_changed(call.session, family, held, revision)
            if held != UNREAD:
                index.remove({part_id for part_id, _ in changed})
            index.add((part_id, number) for part_id, number in changed if number is not None)
            self._revisions[family] = revision
        return index

    def list_like(
        self, call: Call, worn: str, families: Iterable[str], revision: int, limit: int
    ) -> list[NumberMatch]:
        """Return the numbers of some families most like a worn one, nearest first."""
        found = [
            match for family in families for match in self.caught_up(call, family, revision).like(worn, limit)
        ]
        return sorted(found, key=lambda match: (-match.similarity, match.bearers))[:limit]


def weigh_number(index: NumberIndex, kind: str, read: str) -> NumberEvidence:
    """Return what a number of the removed part says of the parts that bear like ones.

    Args:
        index: the numbers of the removed part's family.
        kind: "marking" or "known_number".
        read: what was read, "?" for each character that could not be.
    """
    matches: dict[int, NumberMatch] = {}
    for match in index.weighed(read, LIKE_NUMBERS):
        for part_id in match.bearers:
            matches.setdefault(part_id, match)  # the nearest comes first
    return NumberEvidence(kind, matches)
