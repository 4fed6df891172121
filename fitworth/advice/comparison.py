"""The comparison: every way out of one job with its expected cost, ranked, and a plan."""

from dataclasses import replace
from decimal import Decimal

import numpy as np
from numpy.typing import NDArray

from fitworth.advice.answer import Comparison, OptionResult, say_answer, say_cleared
from fitworth.advice.assumptions import Asked
from fitworth.advice.case import ComparisonCase
from fitworth.advice.lineup import Lineup, line_up
from fitworth.advice.options import Option, pose_ways
from fitworth.advice.undominated import find_undominated
from fitworth.advice.verdict import Plan, judge_machine
from fitworth.costing.expected import Chain, list_lines, to_money
from fitworth.costing.fallback import find_chains
from fitworth.costing.landed import CostLine
from fitworth.costing.spread import find_middle, simulate_costs
from fitworth.costing.terms import ZERO
from fitworth.quantities.money import round_money
from fitworth.vocabulary import OptionKind

STOP = "stop"


def compare(case: ComparisonCase, rng: np.random.Generator) -> Comparison:
    """Return the options of a job ranked by expected cost to the running machine, with a plan.

    A check that shows the part to be good ends it: then there are no options. Candidates that do not fit and
    quotes past their last day are never options. Exact expectations rank; `cost_90` alone is simulated.

    Args:
        case: all that is known.
        rng: source of chance for the spread; the same generator state gives the same answer.

    Raises:
        InvalidValueError: words for the condition that are not known, all at once.
        NotComputableError: exchange rates that are not on file, all at once.
    """
    for clears in case.family.clears:
        if (clears.check, clears.result) in case.work.checks:
            return _answer_cleared(case, clears.says)
    asked = Asked(case.assumptions)
    currency = case.prices.currency
    gain = case.machine.worth_running - case.machine.worth_as_is
    lineup = line_up(case, asked)
    results = _rank([*_cost_options(lineup, gain, currency, rng), _cost_stop(gain, currency)])
    plan = _make_plan(results, gain - case.work.other_spending, currency)
    return Comparison(
        currency=currency,
        options=results,
        plan=plan,
        answer=say_answer(results, plan, currency),
        cleared="",
        assumptions=asked.list_asked(),
        cautions=case.family.cautions,
        warnings=lineup.warnings,
    )


def _answer_cleared(case: ComparisonCase, says: str) -> Comparison:
    return Comparison(
        currency=case.prices.currency,
        options=(),
        plan=None,
        answer=say_cleared(case.family.label, says),
        cleared=says,
        assumptions=(),
        cautions=case.family.cautions,
        warnings=(),
    )


def _cost_options(
    lineup: Lineup, gain: Decimal, currency: str, rng: np.random.Generator
) -> list[OptionResult]:
    """Return the options besides stopping with their costs, not yet ranked."""
    if not lineup.options:
        return []
    ways = pose_ways(lineup.options, lineup.belief, float(gain))
    chains = find_chains(ways)
    middles = find_middle(simulate_costs(chains, lineup.belief, ways.stop_cost, rng))
    return [
        _cost_option(option, chain, middle, ways.stop_cost, currency)
        for option, chain, middle in zip(lineup.options, chains, middles, strict=True)
    ]


def _cost_option(
    option: Option, chain: Chain, middle: NDArray[np.float64], stop_cost: float, currency: str
) -> OptionResult:
    first = chain[0]
    lines = list_lines(chain, stop_cost, currency)
    low, high = middle.tolist()
    return OptionResult(
        id=first.option_id,
        kind=option.kind,
        label=option.label,
        supplier=option.supplier,
        quote_id=option.quote_id,
        candidate=option.candidate,
        fit_confidence=first.chance,
        rank=0,
        undominated=False,
        expected_cost=sum((line.amount for line in lines), ZERO),
        cost_90=(to_money(low, currency), to_money(high, currency)),
        landed_cost=round_money(option.purchase.landed, currency),
        landed_lines=option.purchase.lines,
        missing_needs=option.purchase.needs,
        reliability_penalty=next(line.amount for line in lines if line.line == "reliability_penalty"),
        expected_failures=first.failures,
        lines=lines,
        fallback=chain[1].option_id if len(chain) > 1 else STOP,
        notes=option.notes,
    )


def _cost_stop(gain: Decimal, currency: str) -> OptionResult:
    """Return stopping, which costs the gain forgone."""
    forgone, nothing = round_money(gain, currency), round_money(ZERO, currency)
    return OptionResult(
        id=STOP,
        kind=OptionKind.STOP,
        label="",
        supplier="",
        quote_id=None,
        candidate=None,
        fit_confidence=None,
        rank=0,
        undominated=False,
        expected_cost=forgone,
        cost_90=(forgone, forgone),
        landed_cost=nothing,
        landed_lines=(),
        missing_needs=(),
        reliability_penalty=nothing,
        expected_failures=0.0,
        lines=(CostLine("gain_forgone", forgone),),
        fallback="",
        notes=(),
    )


def _rank(results: list[OptionResult]) -> tuple[OptionResult, ...]:
    """Return the options by expected cost, then by fit; marked are those that no other beats."""
    repairs = [result for result in results if result.kind is not OptionKind.STOP]
    points = np.array(
        [
            [1 - (result.fit_confidence or 0.0), float(result.landed_cost), float(result.reliability_penalty)]
            for result in repairs
        ]
    ).reshape(-1, 3)
    marked = {result.id: bool(mark) for result, mark in zip(repairs, find_undominated(points), strict=True)}
    ordered = sorted(results, key=lambda result: (result.expected_cost, -(result.fit_confidence or 0.0)))
    return tuple(
        replace(result, rank=rank, undominated=marked.get(result.id, False))
        for rank, result in enumerate(ordered, start=1)
    )


def _make_plan(results: tuple[OptionResult, ...], ceiling: Decimal, currency: str) -> Plan | None:
    """Return the best option besides stopping, then its fallback, judged against the ceiling."""
    best = next((result for result in results if result.kind is not OptionKind.STOP), None)
    if best is None:
        return None
    ceiling = round_money(ceiling, currency)
    return Plan(
        steps=(best.id, best.fallback),
        expected_cost=best.expected_cost,
        ceiling=ceiling,
        verdict=judge_machine(best.expected_cost, best.cost_90[1], ceiling),
    )
