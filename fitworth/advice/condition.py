"""What the state of the removed part says about saving it: chances of a cure by cleaning and by a kit."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from fitworth.advice.assumptions import Asked
from fitworth.errors import Fault, escape_pointer, raise_faults

NOT_SEEN = "not_seen"  # the row of a part in which nothing was looked at or nothing was found


@dataclass(frozen=True, slots=True)
class CureTable:
    """The words for a part's condition, and which row of the cure assumptions each finding means.

    Attributes:
        words: the states that each aspect can be found in.
        rows: the row of an (aspect, state); findings without one say nothing against a cure.
        seat_rows: rows that hold only where a corroded seat can, or cannot, be changed.
    """

    words: Mapping[str, tuple[str, ...]]
    rows: Mapping[tuple[str, str], str]
    seat_rows: Mapping[bool, str]


CURE_TABLES: Mapping[str, CureTable] = MappingProxyType(
    {
        "carburetor": CureTable(
            words=MappingProxyType(
                {
                    "fuel_deposit": ("none", "dirty", "varnish_soft", "varnish_hard"),
                    "needle_and_seat": ("good", "worn", "corroded"),
                    "body": ("clean", "light", "pitted"),
                    "shaft": ("good", "worn"),
                    "flange": ("flat", "warped"),
                }
            ),
            rows=MappingProxyType(
                {
                    ("fuel_deposit", "dirty"): "dirty",
                    ("fuel_deposit", "varnish_soft"): "varnish_soft",
                    ("fuel_deposit", "varnish_hard"): "varnish_hard",
                    ("needle_and_seat", "worn"): "needle_worn",
                    ("body", "pitted"): "body_corroded",
                    ("shaft", "worn"): "shaft_worn",
                    ("flange", "warped"): "flange_warped",
                }
            ),
            seat_rows=MappingProxyType({True: "seat_corroded_replaceable", False: "seat_corroded_pressed"}),
        )
    }
)


@dataclass(frozen=True, slots=True)
class Cure:
    """What one way to save the part promises.

    Attributes:
        row: the finding that decides.
        chance: that the part works afterwards, 0 to 1.
        relapse_a_season: chance that a part so cured fails again within a season, 0 to below 1.
    """

    row: str
    chance: float
    relapse_a_season: float


def check_condition(table: CureTable, condition: Mapping[str, object]) -> None:
    """Raise InvalidValueError with every aspect and state that the table has no word for."""
    faults = []
    for aspect, state in condition.items():
        where = "/" + escape_pointer(aspect)
        if aspect not in table.words:
            faults.append(
                Fault(where, f'"{aspect}" is nothing to look at here; known are {", ".join(table.words)}.')
            )
        elif state not in table.words[aspect]:
            faults.append(Fault(where, f'"{aspect}" can be {", ".join(table.words[aspect])}.'))
    raise_faults(faults)


def find_cures(
    table: CureTable, condition: Mapping[str, str], seat_replaceable: bool | None, asked: Asked
) -> tuple[Cure, Cure]:
    """Return what cleaning and what a rebuild kit promise for a part found in this condition.

    Of several findings the worst decides, because one thing that stays broken is enough. A corroded seat that
    nobody has looked at counts as pressed in (own choice: the dearer error is to buy a kit in vain).

    Args:
        table: of the part's kind.
        condition: state by aspect.
        seat_replaceable: whether the seat can be changed, or None where nobody has looked.
        asked: the assumptions; notes which rows were read.

    Raises:
        InvalidValueError: words that the table does not have, all at once.
    """
    check_condition(table, condition)
    rows = [table.rows[finding] for finding in condition.items() if finding in table.rows]
    if condition.get("needle_and_seat") == "corroded":
        rows.append(table.seat_rows[bool(seat_replaceable)])
    rows = rows or [NOT_SEEN]
    return _find_worst(rows, "clean", asked), _find_worst(rows, "kit", asked)


def _find_worst(rows: list[str], action: str, asked: Asked) -> Cure:
    cures = [
        Cure(row, asked.value(f"cure_chance.{row}.{action}"), asked.value(f"relapse_a_season.{row}"))
        for row in rows
    ]
    return min(cures, key=lambda cure: (cure.chance, -cure.relapse_a_season))
