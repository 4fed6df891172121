"""Whether the machine deserves the money that the best plan costs."""

from dataclasses import dataclass
from decimal import Decimal

from fitworth.vocabulary import MachineVerdict


@dataclass(frozen=True, slots=True)
class Plan:
    """The best way without stopping at once, and what follows if it fails.

    Attributes:
        steps: option ids in the order of trying: the best option, then its fallback.
        expected_cost: of the whole plan [job's currency].
        ceiling: worth running less worth as it stands less other spending.
        verdict: on the machine.
    """

    steps: tuple[str, ...]
    expected_cost: Decimal
    ceiling: Decimal
    verdict: MachineVerdict


def judge_machine(expected_cost: Decimal, upper_cost: Decimal, ceiling: Decimal) -> MachineVerdict:
    """Return the verdict on a machine.

    Args:
        expected_cost: of the best plan without stopping at once.
        upper_cost: upper end of the middle 90 % of its realised cost.
        ceiling: what may be spent at most; below zero where other spending has used it up.

    >>> judge_machine(Decimal(40), Decimal(90), Decimal(60)).value
    'marginal'
    """
    if expected_cost > ceiling:
        return MachineVerdict.NOT_WORTH_IT
    return MachineVerdict.WORTH_IT if upper_cost <= ceiling else MachineVerdict.MARGINAL
