"""What must hold of every comparison, whatever the prices, chances and hours."""

from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal

import numpy as np
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fitworth.advice.answer import Comparison, OptionResult
from fitworth.advice.case import Candidate, ComparisonCase, PartOffer, Work
from fitworth.advice.comparison import compare
from fitworth.costing.terms import Returns, SupplierTerms
from fitworth.families.model import Family, Life
from fitworth.vocabulary import Grade

LEAST_RELIABLE_FIRST = (
    Grade.USED,
    Grade.AFTERMARKET_UNBRANDED,
    Grade.AFTERMARKET_BRANDED,
    Grade.OEM,
)
ROUNDING = Decimal("0.05")  # eight lines, each rounded by half a cent at most, before and after
FEW = settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
CENTS = st.integers(100, 9000)
FITS = st.floats(0.05, 1.0)


def run(case: ComparisonCase) -> Comparison:
    return compare(case, np.random.default_rng(1))


def get_option(comparison: Comparison, option_id: str) -> OptionResult:
    return next(option for option in comparison.options if option.id == option_id)


def make_pair(
    case: ComparisonCase,
    make_candidate: Callable[..., Candidate],
    make_offer: Callable[..., PartOffer],
    grades: tuple[Grade, Grade],
    fit: float,
    prices: tuple[int, int],
    supplier: SupplierTerms | None = None,
) -> ComparisonCase:
    """Return a case with two parts and nothing else to buy."""
    return replace(
        case,
        candidates=tuple(make_candidate(i, grade, fit) for i, grade in enumerate(grades, start=1)),
        offers=tuple(
            make_offer(i, str(Decimal(cents) / 100), supplier=supplier)
            for i, cents in enumerate(prices, start=1)
        ),
        work=replace(case.work, needs={}),
    )


@FEW
@given(
    fit=FITS,
    first=CENTS,
    second=CENTS,
    rise=st.integers(1, 5000),
    grade=st.sampled_from(LEAST_RELIABLE_FIRST),
    hour=st.integers(0, 60),
)
def test_a_dearer_part_costs_at_least_the_rise_more_where_nothing_is_taken_back(
    case: ComparisonCase,
    make_candidate: Callable[..., Candidate],
    make_offer: Callable[..., PartOffer],
    make_supplier: Callable[..., SupplierTerms],
    fit: float,
    first: int,
    second: int,
    rise: int,
    grade: Grade,
    hour: int,
) -> None:
    shop = make_supplier(1, returns=Returns(0.0, Decimal(0), Decimal(0)))
    base = replace(case, machine=replace(case.machine, hour_value=Decimal(hour)))
    grades = (grade, Grade.OEM)
    before = get_option(
        run(make_pair(base, make_candidate, make_offer, grades, fit, (first, second), shop)), "replace:101"
    )
    after = get_option(
        run(make_pair(base, make_candidate, make_offer, grades, fit, (first + rise, second), shop)),
        "replace:101",
    )
    landed = after.landed_cost - before.landed_cost
    assert landed == Decimal(rise) / 100
    assert after.expected_cost - before.expected_cost >= landed - ROUNDING


@FEW
@given(fit=FITS, first=CENTS, second=CENTS, rise=st.integers(1, 5000))
def test_where_parts_are_taken_back_a_dearer_one_costs_at_least_its_share_that_fits(
    case: ComparisonCase,
    make_candidate: Callable[..., Candidate],
    make_offer: Callable[..., PartOffer],
    fit: float,
    first: int,
    second: int,
    rise: int,
) -> None:
    grades = (Grade.AFTERMARKET_UNBRANDED, Grade.OEM)
    before, after = (
        get_option(
            run(make_pair(case, make_candidate, make_offer, grades, fit, (price, second))), "replace:101"
        )
        for price in (first, first + rise)
    )
    kept = Decimal(str(fit)) * (after.landed_cost - before.landed_cost)
    assert after.expected_cost - before.expected_cost >= kept - ROUNDING


@FEW
@given(
    fit=FITS,
    cents=CENTS,
    pair=st.tuples(st.integers(0, 3), st.integers(0, 3)).filter(lambda pair: pair[0] < pair[1]),
    shape=st.floats(0.8, 2.0),
    hour=st.integers(0, 40),
    dearer=st.integers(0, 40),
    seasons=st.integers(0, 8),
    longer=st.integers(0, 8),
)
def test_a_dearer_hour_or_a_longer_horizon_never_helps_the_less_reliable_part(
    case: ComparisonCase,
    make_candidate: Callable[..., Candidate],
    make_offer: Callable[..., PartOffer],
    fit: float,
    cents: int,
    pair: tuple[int, int],
    shape: float,
    hour: int,
    dearer: int,
    seasons: int,
    longer: int,
) -> None:
    family: Family = replace(case.family, life=Life(case.family.life.clock, shape), repair=None)
    grades = (LEAST_RELIABLE_FIRST[pair[0]], LEAST_RELIABLE_FIRST[pair[1]])
    parts = make_pair(
        replace(case, family=family, work=Work()), make_candidate, make_offer, grades, fit, (cents, cents)
    )

    def find_lead(hour_value: int, planned: int) -> Decimal:
        machine = replace(parts.machine, hour_value=Decimal(hour_value), seasons=float(planned))
        found = run(replace(parts, machine=replace(machine, worth_running=Decimal(5000))))
        return get_option(found, "replace:101").expected_cost - get_option(found, "replace:102").expected_cost

    now = find_lead(hour, seasons)
    assert now >= -ROUNDING
    assert find_lead(hour + dearer, seasons) >= now - 2 * ROUNDING
    assert find_lead(hour, seasons + longer) >= now - 2 * ROUNDING


@FEW
@given(fits=st.lists(FITS, min_size=1, max_size=4), seed=st.integers(0, 1000))
def test_lines_add_up_and_no_option_costs_more_than_trying_it_and_stopping(
    case: ComparisonCase,
    make_candidate: Callable[..., Candidate],
    make_offer: Callable[..., PartOffer],
    fits: list[float],
    seed: int,
) -> None:
    grades = list(Grade)
    candidates = tuple(make_candidate(i, grades[(i + seed) % 6], fit) for i, fit in enumerate(fits, start=1))
    offers = tuple(make_offer(i, f"{7 + (seed * i) % 60}.50") for i in range(1, len(fits) + 1))
    found = run(replace(case, candidates=candidates, offers=offers))
    gain = case.machine.worth_running - case.machine.worth_as_is
    for option in found.options:
        assert sum(line.amount for line in option.lines) == option.expected_cost
        wrong = [line.amount for line in option.lines if line.line == "wrong_part"]
        if wrong and option.fit_confidence is not None:
            assert float(wrong[0]) <= (1 - option.fit_confidence) * float(gain) + 0.01
