"""Worn part numbers: how many are found again, how fast, and how that compares with a plain scan.

Run: `python -P tests/benchmarks/fit_quality/numbers.py [SIZE ...]`. Numbers are generated in the manner of a
parts shelf (digits in groups, letters before or behind them); each reading is one of them with exactly two
damages among unreadable, confused, dropped and swapped. For each size it prints

- recall@10: of the ten numbers nearest to each reading by the weighted edit distance, and within two damages
  of it, the share that the index finds (one as near counts), against all numbers scored;
- the median time of the index, that of RapidFuzz's `process.extract` (Levenshtein, cutoff 3) over the same
  numbers in the same run, and their ratio;
- the memory of the index, the time to build it, and the time of a change of one number.
"""

import statistics
import sys
import time
from collections import Counter
from collections.abc import Callable, Sequence

import numpy as np
from rapidfuzz import process
from rapidfuzz.distance import OSA, Levenshtein

from fitworth.matching.numbers import DAMAGE, LOOKALIKES, UNREADABLE, NumberIndex, normalise
from fitworth.matching.numbers.text import fold

SIZES = (4_000, 100_000, 1_000_000)
QUERIES = 60
SCORED = 20  # readings of which all numbers are scored
PEER_QUERIES = 15
CHANGES = 2_000
TOP = 10
PATTERNS = ("999-99A", "99-9999", "AA-9999", "A99-999", "9999999", "AA99999A", "999 999 99", "A9-9999")
KINDS = ("unreadable", "confused", "dropped", "swapped")
_LETTERS, _DIGITS = "ABCDEFGHJKLMNPRSTUVWXYZ", "0123456789"


def table(sizes: Sequence[int] = SIZES) -> list[dict[str, object]]:
    """Return one row for each size; see above."""
    return [_row(size) for size in sizes]


def _row(size: int) -> dict[str, object]:
    rng = np.random.default_rng(size)
    numbers = invent_numbers(size, rng)
    index = NumberIndex()
    start = time.perf_counter()
    index.add(enumerate(numbers))
    built_s = time.perf_counter() - start
    plains = list(map(normalise, numbers))
    cases = [_case(plains, rng) for _ in range(QUERIES)]
    recall = _recall(index, plains, cases[:SCORED])
    ours_ms = _median_ms(lambda read: index.like(read, TOP), [read for _, read in cases])
    peer_ms = _median_ms(lambda read: _peer(read, plains), [read for _, read in cases[:PEER_QUERIES]])
    return {
        "size": size,
        "recall@10": round(recall, 4),
        "ours ms": round(ours_ms, 3),
        "rapidfuzz ms": round(peer_ms, 2),
        "ratio": round(peer_ms / ours_ms, 1),
        "MB": round(index.filed_bytes / 1e6, 1),
        "build s": round(built_s, 2),
        "change us": round(_change_us(index, numbers), 1),
    }


def invent_numbers(count: int, rng: np.random.Generator) -> list[str]:
    """Return different numbers."""
    found: dict[str, None] = {}
    while len(found) < count:
        for pattern in rng.choice(PATTERNS, size=count - len(found) + 16).tolist():
            draws = iter(rng.random(len(pattern)).tolist())
            found[
                "".join(
                    _DIGITS[int(next(draws) * 10)]
                    if mark == "9"
                    else _LETTERS[int(next(draws) * len(_LETTERS))]
                    if mark == "A"
                    else mark
                    for mark in pattern
                )
            ] = None
    return list(found)[:count]


def damage(plain: str, kinds: Sequence[str], rng: np.random.Generator) -> str:
    """Return a number with some damages, one after the other, each at another character where it can be."""
    text = list(plain)
    free = list(range(len(text)))  # for each character, the place where it stood; -1 once damaged
    for kind in kinds:
        whole = [i for i, place in enumerate(free) if place >= 0]
        if kind == "swapped":
            whole = [i for i in whole[:-1] if i + 1 in whole and text[i] != text[i + 1]]
        if kind == "confused":
            whole = [i for i in whole if any(text[i] in group for group in LOOKALIKES)]
        if not whole:
            continue
        i = whole[int(rng.integers(len(whole)))]
        if kind == "unreadable":
            text[i], free[i] = UNREADABLE, -1
        elif kind == "dropped":
            del text[i], free[i]
        elif kind == "swapped":
            text[i], text[i + 1], free[i], free[i + 1] = text[i + 1], text[i], -1, -1
        else:
            group = next(group for group in LOOKALIKES if text[i] in group)
            text[i], free[i] = str(rng.choice([other for other in group if other != text[i]])), -1
    return "".join(text)


def _case(plains: Sequence[str], rng: np.random.Generator) -> tuple[str, str]:
    plain = plains[int(rng.integers(len(plains)))]
    return plain, damage(plain, rng.choice(KINDS, size=2).tolist(), rng)


def _recall(index: NumberIndex, plains: Sequence[str], cases: Sequence[tuple[str, str]]) -> float:
    folded = list(map(fold, plains))
    asked, got = 0, 0
    for _, read in cases:
        ours = [DAMAGE.distance(read, normalise(match.number)) for match in index.like(read, TOP)]
        # What is further by plain edits is further than two damages.
        edits = process.cdist([fold(read)], folded, scorer=OSA.distance, dtype=np.uint8, score_cutoff=4)[0]
        near = np.flatnonzero(edits <= 4)
        scored = sorted((DAMAGE.distance(read, plains[i]), int(edits[i])) for i in near.tolist())[:TOP]
        within = [distance for distance, edit in scored if edit <= 2 and distance <= 2 * DAMAGE.swapped]
        asked += len(within)
        got += (Counter(round(one, 6) for one in within) & Counter(round(one, 6) for one in ours)).total()
    return got / asked


def _peer(read: str, plains: Sequence[str]) -> object:
    return process.extract(
        read, plains, scorer=Levenshtein.distance, processor=None, score_cutoff=3, limit=TOP
    )


def _median_ms(ask: Callable[[str], object], reads: Sequence[str]) -> float:
    times = []
    for read in reads:
        start = time.perf_counter()
        ask(read)
        times.append(time.perf_counter() - start)
    return statistics.median(times) * 1000.0


def _change_us(index: NumberIndex, numbers: Sequence[str]) -> float:
    """Return what it costs on the average to give a bearer another number, filing included."""
    start = time.perf_counter()
    for bearer in range(CHANGES):
        index.remove([bearer])
        index.add([(bearer, numbers[-1 - bearer])])
    return (time.perf_counter() - start) / CHANGES * 1e6


def main() -> None:
    """Print the table, row by row."""
    sizes = [int(text) for text in sys.argv[1:]] or SIZES
    for size in sizes:
        print(", ".join(f"{name} {value}" for name, value in _row(size).items()), flush=True)  # noqa: T201


if __name__ == "__main__":
    main()
