"""Imports of CSV files: every sound row is taken, every other one told with its row, column and remedy.

A file as a whole is refused where its form or its columns are wrong. Rows are stored some thousand to a
transaction, so that a large file is neither one endless transaction nor as many as it has rows.
"""

from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager, nullcontext
from datetime import datetime
from itertools import islice

from sqlalchemy.orm import Session, sessionmaker

from api.errors import InvalidInputError
from api.schemas.context import reading_with
from api.services.call import Call
from api.services.import_parts import PartLoader
from api.services.import_quotes import QuoteLoader
from api.services.import_report import ImportReport
from api.services.knowledge import Knowledge
from api.services.sheet import LIMITS, Sheet, SheetLimits, SheetRow, check_columns, read_sheet

ROWS_AT_ONCE = 4_000  # own choice: fewer cost more transactions, more keep other writers waiting longer

Progress = Callable[[int, int], None]


def import_csv(
    sessions: sessionmaker[Session],
    knowledge: Knowledge,
    content: bytes,
    *,
    now: datetime,
    actor: str,
    resource: str | None = None,
    dry_run: bool = False,
    progress: Progress = lambda _done, _all: None,
    limits: SheetLimits = LIMITS,
) -> ImportReport:
    """Return what came of a CSV file of parts or of quotes.

    Args:
        sessions: sessions that may write.
        knowledge: the families on hand.
        content: the file.
        now: when.
        actor: who.
        resource: "parts" or "quotes"; None to tell it by the columns.
        dry_run: do all of it, keep nothing.
        progress: called with the rows done and all rows, after each batch.
        limits: how large the file may be.

    Raises:
        InvalidInputError: nothing of the file can be read; what is wrong with single rows is in the report.
    """
    sheet = read_sheet(content, limits)
    kind = resource or guess(sheet)
    loader: PartLoader | QuoteLoader
    if kind == PartLoader.resource.name:
        loader = PartLoader(knowledge)
    elif kind == QuoteLoader.resource.name:
        loader = QuoteLoader(sheet)
    else:
        raise InvalidInputError("Parts and quotes can be imported; name one of the two.")
    check_columns(sheet, loader.columns, loader.needed)
    report = ImportReport(kind, sheet.count, dry_run)
    with reading_with(knowledge.families), transactions(sessions, dry_run=dry_run) as transaction:
        done = 0
        for rows in batches(sheet):
            with transaction() as session:
                loader.load(Call(session, now, actor, knowledge), rows, report)
            done += len(rows)
            progress(done, sheet.count)
    return report


def guess(sheet: Sheet) -> str:
    """Return what a file holds, by its columns.

    Raises:
        InvalidInputError: it could be neither.
    """
    if "price" in sheet.header:
        return QuoteLoader.resource.name
    if {"family", "grade"} & set(sheet.header):
        return PartLoader.resource.name
    raise InvalidInputError(
        "The columns do not say what the file holds. Parts have family, maker, number and grade; "
        "quotes have supplier, maker, number, grade, price, currency and seen_on."
    )


def batches(sheet: Sheet) -> Iterator[list[SheetRow]]:
    """Yield the rows of a file in batches."""
    rows = sheet.rows()
    while batch := list(islice(rows, ROWS_AT_ONCE)):
        yield batch


@contextmanager
def transactions(
    sessions: sessionmaker[Session], *, dry_run: bool
) -> Iterator[Callable[[], AbstractContextManager[Session]]]:
    """Yield a function that gives each batch its transaction; a dry run is a single one and is taken back."""
    if not dry_run:
        yield sessions.begin
        return
    with sessions() as session:
        yield lambda: nullcontext(session)
        session.rollback()
