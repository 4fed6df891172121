"""Exchange rates of a date."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from itertools import chain

from fitworth.errors import InvalidValueError, NotComputableError

ONE = Decimal(1)


@dataclass(frozen=True, slots=True)
class Rate:
    """One `base` bought `rate` `quote` on a day."""

    base: str
    quote: str
    rate: Decimal
    on: date

    def __post_init__(self) -> None:
        """Refuse a rate that cannot be turned round."""
        if not self.rate.is_finite() or self.rate <= 0:
            raise InvalidValueError("An exchange rate must be above zero.")


def find_rate(rates: Iterable[Rate], source: str, target: str, as_of: date) -> Decimal | None:
    """Return how much `target` one `source` buys, or None where the rates on file do not say.

    The latest rate on or before `as_of` counts, in either direction of the pair; of the same day the direct
    one. Else the pair is chained through one common currency; of several chains the one whose older rate is
    the youngest wins, then the first by its currency's code. Own choice, because an old rate misleads most.
    """
    if source == target:
        return ONE
    latest = _list_latest(rates, as_of)
    found = _find_step(latest, source, target)
    if found is not None:
        return found[0]
    best: tuple[date, Decimal] | None = None
    for through in sorted(set(chain.from_iterable(latest)) - {source, target}):
        first, second = _find_step(latest, source, through), _find_step(latest, through, target)
        if first is not None and second is not None:
            older = min(first[1], second[1])
            if best is None or older > best[0]:
                best = older, first[0] * second[0]
    return None if best is None else best[1]


def get_rate(rates: Iterable[Rate], source: str, target: str, as_of: date) -> Decimal:
    """Return how much `target` one `source` buys on a day; see `find_rate`.

    Raises:
        NotComputableError: when no rate on file tells; it names the pair, the day and the remedy.
    """
    rate = find_rate(rates, source, target, as_of)
    if rate is None:
        raise NotComputableError(
            f"There is no exchange rate from {source} to {target} on or before {as_of.isoformat()}; "
            f"enter one for that pair, or for both of them against one other currency."
        )
    return rate


def _list_latest(rates: Iterable[Rate], as_of: date) -> dict[tuple[str, str], Rate]:
    latest: dict[tuple[str, str], Rate] = {}
    for rate in rates:
        pair = rate.base, rate.quote
        if rate.on <= as_of and (pair not in latest or rate.on >= latest[pair].on):
            latest[pair] = rate
    return latest


def _find_step(latest: dict[tuple[str, str], Rate], source: str, target: str) -> tuple[Decimal, date] | None:
    direct, inverse = latest.get((source, target)), latest.get((target, source))
    if direct is not None and (inverse is None or direct.on >= inverse.on):
        return direct.rate, direct.on
    return None if inverse is None else (ONE / inverse.rate, inverse.on)
