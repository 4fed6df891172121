"""What a family file may say, table by table."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Layout:
    """The keys of one kind of table: those that must stand and those that may."""

    what: str
    required: tuple[str, ...]
    optional: tuple[str, ...] = ()

    @property
    def keys(self) -> tuple[str, ...]:
        """All keys, the required ones first."""
        return self.required + self.optional


FAMILY = Layout(
    "a family",
    ("key", "label", "view", "grades", "life", "dimension"),
    ("needs", "needs_from", "cautions", "repair", "clears", "ratio"),
)
LIFE = Layout("life", ("clock", "shape"))
REPAIR = Layout("repair", ("kit_family", "cure_table"), ("kit_contains",))
DIMENSION = Layout(
    "a dimension",
    ("key", "label", "kind", "role", "how"),
    (
        *("unit", "instrument", "allowance", "allowance_when", "choices", "plausible"),
        *("consequence", "workshop_note", "cure", "scale_of"),
    ),
)
ALLOWANCE_WHEN = Layout("an allowance_when", ("dimension", "value", "allowance"))
CURE = Layout("a cure", ("minutes",), ("needs", "cost", "within"))
AROUND = Layout("an allowance around a dial", ("around", "cycle"))
BOLT_PLAY = Layout("a bolt_play allowance", ("hole", "stud"))
PERCENT = Layout("an allowance in percent", ("percent",))
ACCEPTS = Layout("an accepts allowance", ("accepts",))
CLEARS = Layout("a clears", ("check", "result", "says"))
RATIO = Layout("a ratio", ("numerator", "denominator", "low", "high"))
