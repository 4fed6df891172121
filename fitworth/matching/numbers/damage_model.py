"""How often numbers are damaged, and how, in one frozen object."""

from dataclasses import dataclass

ALPHABET = 36  # letters and digits; other scripts are taken to be as rare as any one of them

# How often one is taken for the other, for each time that it is read as it stands; it is as likely either
# way, since worn strokes look alike whichever was struck. Own choices: 0 and O most, for typists too.
CONFUSED = (
    ("0O", 0.020),
    ("0D", 0.006),
    ("0Q", 0.006),
    ("OD", 0.008),
    ("OQ", 0.010),
    ("DQ", 0.003),
    ("8B", 0.012),
    ("5S", 0.012),
    ("1I", 0.015),
    ("1L", 0.008),
    ("IL", 0.012),
    ("2Z", 0.010),
    ("6G", 0.008),
)


@dataclass(frozen=True, slots=True)
class DamageModel:
    """How often each damage happens, for each character that is read as it stands. All are own choices.

    Attributes:
        unreadable: [1] "?" for a character.
        confused: [1] by pair of look-alikes, one for the other.
        dropped: [1] a character that is missing in what was read.
        swapped: [1] for two characters that are read as they stand: exchanged with each other.
        different: [1] any other character, whichever.
        added: [probability] that another character is read before the next one, or before the end.
        prefix_dropped: [1] for each number that is read with its prefix: read without.
        suffix_dropped: [1] the same for the suffix, which differs between revisions.
    """

    unreadable: float = 0.05
    confused: tuple[tuple[str, float], ...] = CONFUSED
    dropped: float = 0.012
    swapped: float = 0.005
    different: float = 0.007
    added: float = 0.005
    prefix_dropped: float = 0.03
    suffix_dropped: float = 0.05
