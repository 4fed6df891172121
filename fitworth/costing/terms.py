"""What shops and borders ask, as values. Amounts are Decimals; each field says in whose currency."""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from decimal import Decimal

from fitworth.errors import Fault, raise_faults
from fitworth.vocabulary import CustomsBasis

ZERO = Decimal(0)


@dataclass(frozen=True, slots=True)
class FlatCharge:
    """One sum per parcel [supplier's currency]."""

    amount: Decimal


@dataclass(frozen=True, slots=True)
class PerItemCharge:
    """A sum for the first item and one for each further item [supplier's currency]."""

    first: Decimal
    each_further: Decimal


@dataclass(frozen=True, slots=True)
class WeightBand:
    """The charge of a parcel up to this weight [g]; infinite where there is no upper end."""

    up_to_g: float
    amount: Decimal


@dataclass(frozen=True, slots=True)
class WeightCharge:
    """The charge of the lightest band that the parcel does not exceed [supplier's currency]."""

    bands: tuple[WeightBand, ...]

    def __post_init__(self) -> None:
        """Refuse bands that do not rise."""
        ends = [band.up_to_g for band in self.bands]
        if not ends or any(end <= before for end, before in zip(ends, [0.0, *ends], strict=False)):
            raise_faults(
                [Fault("", "There must be at least one band, and the weights must rise from band to band.")]
            )


ChargeSchedule = FlatCharge | PerItemCharge | WeightCharge


@dataclass(frozen=True, slots=True)
class DeliveryMethod:
    """One way in which a supplier sends goods.

    Attributes:
        method: its name: "post", "courier".
        to_country: the only country that it serves, or None for any.
        schedule: how it is charged.
        free_above: goods sum from which delivery costs nothing [supplier's currency], or None.
        days: from order to bench [d].
        insurance: share of the goods' price that the carrier's insurance costs.
    """

    method: str
    to_country: str | None
    schedule: ChargeSchedule
    free_above: Decimal | None
    days: float
    insurance: Decimal = ZERO


@dataclass(frozen=True, slots=True)
class Returns:
    """Sending back within `days` [d]: the buyer's postage [supplier's currency], restocking as a share."""

    days: float
    postage: Decimal
    restocking: Decimal


@dataclass(frozen=True, slots=True)
class SupplierTerms:
    """A shop with its terms."""

    supplier_id: int
    name: str
    country: str
    currency: str
    delivery: tuple[DeliveryMethod, ...]
    prices_include_tax: bool
    returns: Returns
    warranty_days: float


@dataclass(frozen=True, slots=True)
class PriceBreak:
    """The price of each item from this quantity on [supplier's currency]."""

    from_quantity: int
    price: Decimal


@dataclass(frozen=True, slots=True)
class Goods:
    """Items of one quote as they lie in a parcel.

    Attributes:
        quote_id: the quote that they are bought by.
        family: the kind of part, which the duty goes by.
        price: of one item [supplier's currency].
        price_breaks: lower prices from a quantity on.
        quantity: items, 1 or more.
        weight_g: of one item [g], or None where nobody knows.
        core_charge: deposit for the old part, of one item [supplier's currency].
        includes: the needs that one item covers, once each.
    """

    quote_id: int
    family: str
    price: Decimal
    price_breaks: tuple[PriceBreak, ...] = ()
    quantity: int = 1
    weight_g: float | None = None
    core_charge: Decimal = ZERO
    includes: frozenset[str] = frozenset()

    def __post_init__(self) -> None:
        """Refuse what no shop sells."""
        raise_faults(self._list_faults())

    def _list_faults(self) -> Iterable[Fault]:
        if self.quantity < 1:
            yield Fault("/quantity", "The quantity must be 1 or more.")
        if self.price < 0:
            yield Fault("/price", "The price must be zero or more.")
        if self.core_charge < 0:
            yield Fault("/core_charge", "The core charge must be zero or more.")
        if self.weight_g is not None and not 0 <= self.weight_g < math.inf:
            yield Fault("/weight_g", "The weight must be zero or more, in grams.")
        for position, step in enumerate(self.price_breaks):
            if step.from_quantity < 1 or step.price < 0:
                yield Fault(
                    f"/price_breaks/{position}", "A price break needs a quantity of 1 or more and a price."
                )


@dataclass(frozen=True, slots=True)
class ProcessingFee:
    """A share of the customs value between a floor and a cap [destination's currency]."""

    rate: Decimal
    floor: Decimal
    cap: Decimal

    def __post_init__(self) -> None:
        """Refuse a cap below the floor."""
        if self.cap < self.floor:
            raise_faults([Fault("/cap", "The cap of the processing fee must not be below its floor.")])


@dataclass(frozen=True, slots=True)
class ImportRules:
    """What a border takes from goods that come in.

    Attributes:
        basis: whether the customs value counts carriage and insurance.
        duty: rate by family; "default" for the others, which pay none where it is absent.
        threshold: customs value at or below which goods pass without duty and fee [destination's currency].
        processing_fee: of the customs office, or None.
        tax: import tax as a share of the customs value with duty, carriage, insurance and fee.
    """

    basis: CustomsBasis
    duty: Mapping[str, Decimal] = field(hash=False)
    threshold: Decimal
    processing_fee: ProcessingFee | None
    tax: Decimal


@dataclass(frozen=True, slots=True)
class Destination:
    """Where the goods go.

    Attributes:
        name: what the user calls it.
        country: two letters.
        currency: in which all costs are told.
        sales_tax: share that is added to goods bought in the same country.
        imports: the rules for goods from other countries, or None where nothing is taken.
        exchange_margin: share by which the bank's rate is worse than the published one.
    """

    name: str
    country: str
    currency: str
    sales_tax: Decimal
    imports: ImportRules | None
    exchange_margin: Decimal
