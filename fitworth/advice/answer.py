"""A comparison as it is answered: options with their costs, the plan, and one plain sentence."""

from dataclasses import dataclass
from decimal import Decimal

from fitworth.advice.assumptions import Assumption
from fitworth.advice.case import Candidate
from fitworth.advice.purchases import MissingNeed
from fitworth.advice.verdict import Plan
from fitworth.costing.landed import CostLine
from fitworth.vocabulary import MachineVerdict, OptionKind, Verdict


@dataclass(frozen=True, slots=True)
class OptionResult:
    """One option with its costs; amounts in the comparison's currency.

    Attributes:
        id: `clean`, `stop`, `rebuild:{quote_id}` or `replace:{quote_id}`.
        kind: which way it is.
        label: name of its goods, "" where it has none.
        supplier: who sells them, "" where it has none.
        quote_id: None where it has no goods.
        candidate: the part that replaces, else None.
        fit_confidence: that the part fits, or the cure holds; None for stopping.
        rank: from 1, by expected cost.
        undominated: whether no other beats it on all of fit, landed cost and reliability penalty; stopping is
            not compared.
        expected_cost: to the running machine; the sum of `lines`.
        cost_90: ends of the middle 90 % of the realised cost.
        landed_cost: of its own goods.
        landed_lines: of these.
        missing_needs: what its box lacks.
        reliability_penalty: cost of its failures above an OEM part's.
        expected_failures: over the horizon where it runs, dead arrivals included.
        lines: of the expected cost.
        fallback: option that follows where it fails, "" for stopping.
        notes: what to know about it.
    """

    id: str
    kind: OptionKind
    label: str
    supplier: str
    quote_id: int | None
    candidate: Candidate | None
    fit_confidence: float | None
    rank: int
    undominated: bool
    expected_cost: Decimal
    cost_90: tuple[Decimal, Decimal]
    landed_cost: Decimal
    landed_lines: tuple[CostLine, ...]
    missing_needs: tuple[MissingNeed, ...]
    reliability_penalty: Decimal
    expected_failures: float
    lines: tuple[CostLine, ...]
    fallback: str
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Comparison:
    """The options of one job, ranked.

    Attributes:
        currency: of all amounts.
        options: by rank; none where a check has cleared the part.
        plan: None where stopping is the only option, or none is needed.
        answer: one plain sentence.
        cleared: what the check says that clears the part, "" where none does.
        assumptions: those that the answer rests on, with their origin.
        cautions: keys of the cautions to show.
        warnings: what was left out, and why.
    """

    currency: str
    options: tuple[OptionResult, ...]
    plan: Plan | None
    answer: str
    cleared: str
    assumptions: tuple[Assumption, ...]
    cautions: tuple[str, ...]
    warnings: tuple[str, ...]


def say_cleared(label: str, says: str) -> str:
    """Return the answer where a check has shown that the part is good."""
    return f"Buy no {label.lower()}. {says}"


def say_answer(options: tuple[OptionResult, ...], plan: Plan | None, currency: str) -> str:
    """Return the sentence that says what is best, by how much, what comes second and what to mind.

    Args:
        options: by rank, at least stopping.
        plan: None where stopping is the only option.
        currency: of all amounts.
    """
    best = options[0]
    if plan is None:
        return (
            "There is nothing to compare: enter a quote for a part that fits, or leave the machine as it is."
        )
    second = options[1]
    more = f"{second.expected_cost - best.expected_cost} {currency}"
    if best.kind is OptionKind.STOP:
        return (
            f"Leave the machine as it is: every repair costs more than the {best.expected_cost} {currency} "
            f"that it would gain; to {_say_way(second)} comes nearest, {more} above."
        )
    sentence = (
        f"Best is to {_say_way(best)}: {best.expected_cost} {currency} to be expected by the time it "
        f"runs, {more} less than to {_say_way(second)}"
    )
    return f"{sentence}{_say_caveat(best, plan, currency)}."


def _say_way(option: OptionResult) -> str:
    if option.kind is OptionKind.REPLACE:
        return f"buy the {option.label} from {option.supplier}"
    if option.kind is OptionKind.REBUILD:
        return f"rebuild the old one with the {option.label} from {option.supplier}"
    return "clean the old one" if option.kind is OptionKind.CLEAN else "leave the machine as it is"


def _say_caveat(best: OptionResult, plan: Plan, currency: str) -> str:
    if plan.verdict is MachineVerdict.NOT_WORTH_IT:
        return f"; but the machine deserves no more than {plan.ceiling} {currency}"
    if best.candidate is not None and best.candidate.verdict is Verdict.UNCERTAIN:
        return f"; but whether it fits is uncertain ({best.fit_confidence:.2f}), so measure more first"
    if plan.verdict is MachineVerdict.MARGINAL:
        return (
            f"; with bad luck it costs {best.cost_90[1]} {currency}, more than the {plan.ceiling} that the "
            f"machine deserves"
        )
    return ""
