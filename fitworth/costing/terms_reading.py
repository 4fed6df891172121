"""Reading of a shop's and a border's terms from JSON-shaped mappings, every fault told at once."""

import math
from collections.abc import Mapping
from decimal import Decimal
from functools import partial

from fitworth.costing.terms import (
    ZERO,
    ChargeSchedule,
    DeliveryMethod,
    FlatCharge,
    ImportRules,
    PerItemCharge,
    ProcessingFee,
    Returns,
    WeightBand,
    WeightCharge,
)
from fitworth.errors import Fault, InvalidValueError, escape_pointer, raise_faults
from fitworth.quantities.money import read_amount
from fitworth.quantities.reading import (
    Form,
    read_country,
    read_items,
    read_name,
    read_number,
    read_positive,
    read_share,
)
from fitworth.vocabulary import CustomsBasis, Schedule

_FIELDS = {
    Schedule.FLAT: ("amount",),
    Schedule.PER_ITEM: ("first", "each_further"),
    Schedule.BY_WEIGHT: ("bands",),
}


def read_schedule(raw: object, currency: str) -> tuple[ChargeSchedule, Decimal | None]:
    """Return how delivery is charged, and the goods sum from which it is free or None.

    Args:
        raw: `{"kind": "flat", "amount": "4.57", "free_above": "35.00"}`,
            `{"kind": "per_item", "first": "4.00", "each_further": "1.50"}` or
            `{"kind": "by_weight", "bands": [{"up_to_g": 500, "amount": "4.00"}]}`; `free_above` goes with any
            kind, `"up_to_g": null` means that the last band has no upper end.
        currency: of the supplier; amounts are plain decimal strings in it.

    Raises:
        InvalidValueError: with every fault and its JSON pointer.
    """
    kind = _read_kind(raw)
    form = Form(raw, "The schedule", ("kind", *_FIELDS[kind], "free_above"))
    amount = partial(read_amount, currency=currency)
    bands = partial(_read_bands, currency=currency)
    free_above = form.optional("free_above", amount)
    parts = [form.required(key, bands if key == "bands" else amount) for key in _FIELDS[kind]]
    form.finish()
    if kind is Schedule.FLAT:
        return FlatCharge(*parts), free_above
    if kind is Schedule.PER_ITEM:
        return PerItemCharge(*parts), free_above
    return WeightCharge(*parts), free_above


def read_method(raw: object, currency: str) -> DeliveryMethod:
    """Return one way of delivery: `{"method": "post", "to_country": "US", "schedule": {...}, "days": 4}`.

    `to_country` may be absent (anywhere), and so may `insurance`, a share of the goods' price.
    """
    form = Form(raw, "A delivery method", ("method", "to_country", "schedule", "days", "insurance"))
    method = form.required("method", read_name)
    to_country = form.optional("to_country", read_country)
    charged = form.required("schedule", partial(read_schedule, currency=currency))
    days = form.required("days", read_number)
    insurance = form.optional("insurance", read_share, ZERO)
    form.finish()
    schedule, free_above = charged
    return DeliveryMethod(method, to_country, schedule, free_above, days, insurance)


def read_delivery(raw: object, currency: str) -> tuple[DeliveryMethod, ...]:
    """Return all ways of delivery of a supplier, from a list of them."""
    return read_items(raw, "Delivery", partial(read_method, currency=currency))


def read_returns(raw: object, currency: str) -> Returns:
    """Return the terms of sending back: `{"days": 30, "postage": "4.50", "restocking": "0.15"}`."""
    form = Form(raw, "The terms of return", ("days", "postage", "restocking"))
    days = form.required("days", read_number)
    postage = form.optional("postage", partial(read_amount, currency=currency), ZERO)
    restocking = form.optional("restocking", read_share, ZERO)
    form.finish()
    return Returns(days, postage, restocking)


def read_import_rules(raw: object, currency: str) -> ImportRules:
    """Return a destination's import rules.

    Args:
        raw: `{"basis": "goods", "duty": {"carburetor": "0.025", "default": "0"}, "threshold": "800.00",
            "processing_fee": {"rate": "0.003464", "floor": "25.00", "cap": "485.00"}, "tax": "0.20"}`;
            all but `basis` may be absent.
        currency: of the destination.
    """
    form = Form(raw, "The import rules", ("basis", "duty", "threshold", "processing_fee", "tax"))
    basis = form.required("basis", _read_basis)
    duty = form.optional("duty", _read_duty, {})
    threshold = form.optional("threshold", partial(read_amount, currency=currency), ZERO)
    fee = form.optional("processing_fee", partial(_read_fee, currency=currency))
    tax = form.optional("tax", read_share, ZERO)
    form.finish()
    return ImportRules(basis, duty, threshold, fee, tax)


def _read_kind(raw: object) -> Schedule:
    kind = raw.get("kind") if isinstance(raw, Mapping) else None
    if not isinstance(kind, str) or kind not in tuple(Schedule):
        where = "/kind" if isinstance(raw, Mapping) else ""
        raise InvalidValueError(
            Fault(where, f"A schedule is an object whose kind is one of {', '.join(Schedule)}.")
        )
    return Schedule(kind)


def _read_bands(raw: object, currency: str) -> tuple[WeightBand, ...]:
    bands: tuple[WeightBand, ...] = read_items(raw, "Bands", partial(_read_band, currency=currency))
    WeightCharge(bands)  # refuses bands that do not rise
    return bands


def _read_band(raw: object, currency: str) -> WeightBand:
    form = Form(raw, "A band", ("up_to_g", "amount"))
    up_to_g = form.required("up_to_g", lambda end: math.inf if end is None else read_positive(end))
    amount = form.required("amount", partial(read_amount, currency=currency))
    form.finish()
    return WeightBand(up_to_g, amount)


def _read_basis(raw: object) -> CustomsBasis:
    if not isinstance(raw, str) or raw not in tuple(CustomsBasis):
        raise InvalidValueError(f"The basis is one of {', '.join(CustomsBasis)}.")
    return CustomsBasis(raw)


def _read_duty(raw: object) -> Mapping[str, Decimal]:
    if not isinstance(raw, Mapping):
        raise InvalidValueError('Duty is an object of rates by family, like {"carburetor": "0.025"}.')
    rates: dict[str, Decimal] = {}
    faults: list[Fault] = []
    for family, rate in raw.items():
        try:
            rates[str(family)] = read_share(rate)
        except InvalidValueError as error:
            faults.extend(fault.under(f"/{escape_pointer(str(family))}") for fault in error.faults)
    raise_faults(faults)
    return rates


def _read_fee(raw: object, currency: str) -> ProcessingFee:
    form = Form(raw, "The processing fee", ("rate", "floor", "cap"))
    rate = form.required("rate", read_share)
    floor = form.required("floor", partial(read_amount, currency=currency))
    cap = form.required("cap", partial(read_amount, currency=currency))
    form.finish()
    return ProcessingFee(rate, floor, cap)
