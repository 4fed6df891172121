"""Part numbers that are worn, misread or mistyped: which stored number it may have been, and how probably."""

from fitworth.matching.numbers.damage import DAMAGE, Damage
from fitworth.matching.numbers.damage_model import DamageModel
from fitworth.matching.numbers.index import NumberIndex
from fitworth.matching.numbers.ranking import NumberMatch
from fitworth.matching.numbers.text import LOOKALIKES, UNREADABLE, normalise

__all__ = (
    "DAMAGE",
    "LOOKALIKES",
    "UNREADABLE",
    "Damage",
    "DamageModel",
    "NumberIndex",
    "NumberMatch",
    "normalise",
)
