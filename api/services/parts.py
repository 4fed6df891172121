"""Parts and interchange statements as resources."""

from collections.abc import Iterable, Sequence
from functools import cache
from typing import Any

from sqlalchemy.orm import Session

from api.errors import InputFault, InvalidInputError
from api.schemas.context import known_families
from api.schemas.parts import InterchangeIn, PartIn
from api.services.call import Call
from api.services.resource import Body, Resource
from api.tabular import Table
from db import parts as stored_parts
from db.models import Interchange, Part
from db.parts import Number, PartFilter
from fitworth.errors import InvalidValueError
from fitworth.families.model import Family
from fitworth.matching.measurements import read_value, write_value
from fitworth.matching.numbers import normalise
from fitworth.quantities.quantity import Value
from fitworth.vocabulary import Grade, Instrument

MOST_WORDS = 50  # own choice: nobody types more, and each is one more condition for the database

PART_COLUMNS = (
    "id",
    "family",
    "maker",
    "number",
    "other_numbers",
    "grade",
    "title",
    "includes",
    "serves",
    "stated_for",
    "notes",
)


def numbers_of(part: PartIn | Part) -> list[Number]:
    """Return a part's numbers as stored, its own first."""
    written = [number for number in (part.number, *part.other_numbers) if number is not None]
    return [Number(number, normalise(number)) for number in dict.fromkeys(written)]


def dimensions_of(family: Family, values: dict[str, Value]) -> Body:
    """Return dimension values as they are stored and shown."""
    return {key: write_value(family.by_key[key], value) for key, value in values.items()}


def part_body(data: PartIn, dimensions: Body) -> Body:
    """Return a part as it will be shown, from what came in and its dimensions as they are shown."""
    return {
        "family": data.family,
        "maker": data.maker,
        "number": data.number,
        "other_numbers": data.other_numbers,
        "grade": data.grade,
        "title": data.title,
        "dimensions": dimensions,
        "includes": data.includes,
        "serves": data.serves,
        "stated_for": data.stated_for,
        "notes": data.notes,
    }


def part_columns(call: Call, data: PartIn, body: Body) -> Body:
    """Return the columns of a part's row: what is shown, and what is made of it."""
    return {
        **body,
        "number_key": None if data.number is None else normalise(data.number),
        "packed": call.knowledge.layouts[data.family].pack(dict(data.dimensions)),
    }


def write_part(call: Call, row: Part, data: PartIn) -> None:
    """Set a part's columns."""
    dimensions = dimensions_of(call.knowledge.families[data.family], dict(data.dimensions))
    for name, value in part_columns(call, data, part_body(data, dimensions)).items():
        setattr(row, name, value)


def attach_numbers(call: Call, row: Part) -> None:
    """Store a part's numbers and the needs of its box, by which it is found."""
    stored_parts.set_part_details(call.session, row, numbers_of(row))


def read_part(row: Part) -> Body:
    """Return a part as it came in."""
    return {
        "family": row.family,
        "maker": row.maker,
        "number": row.number,
        "other_numbers": row.other_numbers,
        "grade": row.grade,
        "title": row.title,
        "dimensions": row.dimensions,
        "includes": row.includes,
        "serves": row.serves,
        "stated_for": row.stated_for,
        "notes": row.notes,
    }


def part_conflicts(call: Call, data: PartIn, own_id: int | None) -> Iterable[InputFault]:
    """Refuse a second sheet of the same maker, number and grade."""
    if data.number is None:
        return
    for other in stored_parts.list_parts_by_number(call.session, normalise(data.number), family=data.family):
        same = (other.maker, other.grade, other.number_key) == (
            data.maker,
            data.grade,
            normalise(data.number),
        )
        if same and other.id != own_id:
            yield InputFault(
                f"Part {other.id} has this maker, number and grade; edit that one, or mend the number.",
                "pointer",
                "/number",
            )


def list_part_rows(session: Session, wanted: dict[str, Any], *, limit: int, after_id: int) -> list[Part]:
    """List parts by family, maker, grade and words.

    Raises:
        InvalidInputError: there are too many words for one search.
    """
    if len(wanted.get("q", "").split()) > MOST_WORDS:
        raise InvalidInputError(
            "There is too much to look for.",
            [InputFault(f"At most {MOST_WORDS} words are looked for at once.", "parameter", "q")],
        )
    grade = wanted.get("grade")
    if grade is not None and grade not in set(Grade):
        return []
    asked = PartFilter(
        q=wanted.get("q"),
        family=wanted.get("family"),
        maker=wanted.get("maker"),
        grade=None if grade is None else Grade(grade),
    )
    return stored_parts.list_parts(session, asked, limit=limit, after_id=after_id)


def spread_parts(items: list[Body]) -> Table:
    """Return parts as a table: a column for each dimension that any of them lists, as it was entered."""
    return part_table(items, list(dict.fromkeys(key for item in items for key in item["dimensions"])))


def part_table(items: Iterable[Body], keys: Sequence[str]) -> Table:
    """Return parts as a table with these dimensions; no part is taken from `items` before its turn."""
    families = known_families()

    @cache
    def says_all(family_key: str, key: str, value: float, plus_minus: float, as_entered: str) -> bool:
        family = families.get(family_key)
        return family is not None and reads_back(family, key, (value, plus_minus), as_entered)

    def as_cell(item: Body, key: str) -> Any:
        value = item["dimensions"].get(key)
        if value == []:
            return "[]"  # an empty cell would say that nothing is listed
        if isinstance(value, dict) and says_all(
            item["family"], key, value["value"], value["plus_minus"], value["as_entered"]
        ):
            return value["as_entered"]
        return value

    def row(item: Body) -> list[Any]:
        return [*(item[name] for name in PART_COLUMNS), *(as_cell(item, key) for key in keys)]

    return Table([*PART_COLUMNS, *keys], map(row, items))


def reads_back(family: Family, key: str, numbers: tuple[float, float], as_entered: str) -> bool:
    """Return whether a listing's text alone gives the same value and ± again; if not, all must be written."""
    dimension = family.by_key.get(key)
    if dimension is None:
        return False
    try:
        written = write_value(dimension, read_value(dimension, as_entered, Instrument.LISTING))
    except InvalidValueError:
        return False
    return isinstance(written, dict) and numbers == (written["value"], written["plus_minus"])


PARTS = Resource(
    name="parts",
    noun="part",
    model=Part,
    schema=PartIn,
    write=write_part,
    read=read_part,
    conflicts=part_conflicts,
    attach=attach_numbers,
    filters={"family": "family", "maker": "maker", "grade": "grade", "q": "q"},
    rows=list_part_rows,
    columns=PART_COLUMNS,
    spread=spread_parts,
)


def write_interchange(call: Call, row: Interchange, data: InterchangeIn) -> None:
    """Set a statement's columns."""
    del call
    row.from_number, row.from_key = data.from_number, normalise(data.from_number)
    row.to_number, row.to_key = data.to_number, normalise(data.to_number)
    row.relation, row.source, row.confidence = data.relation, data.source, data.confidence


def read_interchange(row: Interchange) -> Body:
    """Return a statement as it came in."""
    return {
        "from_number": row.from_number,
        "to_number": row.to_number,
        "relation": row.relation,
        "source": row.source,
        "confidence": row.confidence,
    }


INTERCHANGE = Resource(
    name="interchange",
    noun="statement",
    model=Interchange,
    schema=InterchangeIn,
    write=write_interchange,
    read=read_interchange,
    filters={"from_number": "from_number", "to_number": "to_number", "relation": "relation"},
    columns=("id", "from_number", "to_number", "relation", "source", "confidence"),
)
