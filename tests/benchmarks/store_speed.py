"""How fast the store loads parts and hands out the rows of the search index, beside a plain table.

    python -P tests/benchmarks/store_speed.py [--parts 100000] [--url sqlite:////folder/new.sqlite]

The rows are read into NumPy arrays, as an index is built from them. The peer is a table with one integer a
row and as many rows, read by the same driver: times of it say what the rows themselves cost.
"""

import argparse
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
from sqlalchemy import Engine, text

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from db import migrate, parts, records
from db.parts import NewPart, Number
from db.session import WRITER, make_engine, make_session_factory
from fitworth.vocabulary import Grade

BATCH = 5_000
ROUNDS = 3
PACKED_BYTES = 64
MAKERS = ("Harrowmere", "Brackwell", "Quillon", "Vennor", "Ostler")
GRADES = tuple(Grade)


def make_part(n: int, rng: np.random.Generator) -> NewPart:
    """Return an invented carburetor with ten dimensions, about the size of a real sheet."""
    lengths = rng.normal(20.0, 5.0, 10)
    dimensions = {
        f"dimension_{position}": {
            "value": length,
            "unit": "mm",
            "plus_minus": 0.05,
            "as_entered": f"{length:.2f} mm",
        }
        for position, length in enumerate(lengths.round(2).tolist())
    }
    number = f"{n // 1000}-{n % 1000:03}"
    values = {
        "family": "carburetor",
        "maker": MAKERS[n % len(MAKERS)],
        "grade": GRADES[n % len(GRADES)],
        "number": number,
        "number_key": number.replace("-", ""),
        "title": "carburetor, float bowl",
        "dimensions": dimensions,
        "packed": rng.bytes(PACKED_BYTES),
    }
    return NewPart(values, [Number(number, number.replace("-", ""))])


def load(engine: Engine, count: int) -> float:
    """Return the seconds that storing the parts took, without those that inventing them took."""
    rng = np.random.default_rng(20261125)
    factory = make_session_factory(engine, writer=True)
    spent_s = 0.0
    for start in range(0, count, BATCH):
        batch = [make_part(n, rng) for n in range(start, min(start + BATCH, count))]
        began = time.perf_counter()
        with factory.begin() as session:
            revision = records.next_revision(session)
            parts.bulk_insert(session, batch, now=datetime(2026, 11, 25, tzinfo=UTC), revision=revision)
        spent_s += time.perf_counter() - began
    return spent_s


def make_peer(engine: Engine, count: int) -> None:
    """Make the plain table of integers."""
    with engine.execution_options(**{WRITER: True}).begin() as connection:
        connection.execute(text("CREATE TABLE peer (id INTEGER PRIMARY KEY)"))
        connection.execute(
            text(
                "INSERT INTO peer WITH RECURSIVE n(id) AS"
                " (SELECT 1 UNION ALL SELECT id + 1 FROM n WHERE id < :count) SELECT id FROM n"
            ),
            {"count": count},
        )


def read_peer(engine: Engine) -> int:
    """Return how many integers of the plain table were read into an array."""
    with engine.connect() as connection:
        cursor = connection.execution_options(yield_per=parts.CHUNK_ROWS).execute(text("SELECT id FROM peer"))
        chunks = [np.fromiter((row[0] for row in rows), dtype=np.int64) for rows in cursor.partitions()]
    return sum(len(chunk) for chunk in chunks)


def read_packed(engine: Engine) -> int:
    """Return how many rows of the search index were read into arrays."""
    ids, rows = [], []
    with make_session_factory(engine, writer=False)() as session:
        for chunk in parts.iter_packed(session, "carburetor"):
            ids.append(np.array(chunk.ids, dtype=np.int64))
            rows.append(np.frombuffer(b"".join(chunk.packed), dtype=np.int16).reshape(len(chunk.ids), -1))
    return len(np.concatenate(ids)) + 0 * len(np.concatenate(rows))


def read_numbers(engine: Engine) -> int:
    """Return how many numbers were listed."""
    with make_session_factory(engine, writer=False)() as session:
        return len(parts.list_numbers_changed(session, "carburetor", 0, records.get_revision(session)))


def median_s(read: Callable[[Engine], int], engine: Engine, count: int) -> float:
    """Return the median seconds of several readings, each of which must find all rows."""
    times = []
    for _ in range(ROUNDS):
        began = time.perf_counter()
        found = read(engine)
        times.append(time.perf_counter() - began)
        if found != count:
            raise AssertionError(f"{found} rows were read, {count} are stored.")
    return sorted(times)[ROUNDS // 2]


def main() -> None:
    """Run the measurement and print one line for each thing measured."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--parts", type=int, default=100_000)
    parser.add_argument("--url", help="an empty database; a file that is removed afterwards if left out")
    arguments = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        engine = make_engine(arguments.url or f"sqlite:///{folder}/speed.sqlite")
        migrate.upgrade(engine)
        loading_s = load(engine, arguments.parts)
        make_peer(engine, arguments.parts)
        peer_s = median_s(read_peer, engine, arguments.parts)
        sys.stdout.write(f"{'what':<24}{'s':>9}{'us a row':>10}{'times peer':>12}\n")
        for what, spent_s in (
            ("bulk_insert", loading_s),
            ("plain integers (peer)", peer_s),
            ("iter_packed to arrays", median_s(read_packed, engine, arguments.parts)),
            ("list_numbers_changed", median_s(read_numbers, engine, arguments.parts)),
        ):
            us_a_row, times_peer = spent_s / arguments.parts * 1e6, spent_s / peer_s
            sys.stdout.write(f"{what:<24}{spent_s:>9.3f}{us_a_row:>10.2f}{times_peer:>12.1f}\n")
        engine.dispose()


if __name__ == "__main__":
    main()
