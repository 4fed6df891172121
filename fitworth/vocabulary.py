"""The words of the trade as enumerations. One word per thing; their text is what is stored and sent."""

from enum import StrEnum


class Grade(StrEnum):
    """Where a part comes from, as far as its quality goes."""

    OEM = "oem"
    AFTERMARKET_BRANDED = "aftermarket_branded"
    AFTERMARKET_UNBRANDED = "aftermarket_unbranded"
    REMANUFACTURED = "remanufactured"
    USED = "used"
    NEW_OLD_STOCK = "new_old_stock"


class Kind(StrEnum):
    """What kind of value a dimension has."""

    LENGTH = "length"
    ANGLE = "angle"
    RESISTANCE = "resistance"
    CAPACITANCE = "capacitance"
    COUNT = "count"
    CHOICE = "choice"
    FLAG = "flag"
    SET = "set"
    TEXT = "text"

    @property
    def is_numeric(self) -> bool:
        """Whether values of this kind are numbers with a unit and an uncertainty."""
        return self in NUMERIC_KINDS


NUMERIC_KINDS = frozenset({Kind.LENGTH, Kind.ANGLE, Kind.RESISTANCE, Kind.CAPACITANCE, Kind.COUNT})


class Role(StrEnum):
    """What a mismatch in a dimension does."""

    SAFE = "safe"  # removes the candidate whatever else agrees
    MOUNT = "mount"  # cannot be bolted on
    SEAL = "seal"  # leaks
    CONNECT = "connect"  # goes on after the cure; the only curable role
    RUN = "run"  # goes on and runs wrong
    NOTE = "note"  # health or setting; never counts for fit


class Instrument(StrEnum):
    """What a value was measured with, or where it was read."""

    CALIPER_OUTSIDE = "caliper_outside"
    CALIPER_INSIDE = "caliper_inside"
    MICROMETER = "micrometer"
    DRILL_SHANK = "drill_shank"
    TAPER_GAUGE = "taper_gauge"
    RULE = "rule"
    TAPE = "tape"
    MULTIMETER = "multimeter"
    LOOK = "look"
    LISTING = "listing"


class LifeClock(StrEnum):
    """What wears a part out: the calendar (stored fuel) or running hours."""

    CALENDAR = "calendar"
    HOURS = "hours"


class Status(StrEnum):
    """How a dimension of a candidate compares with the removed part's."""

    AGREES = "agrees"
    DIFFERS = "differs"
    NOT_MEASURED = "not_measured"
    NOT_LISTED = "not_listed"


class Verdict(StrEnum):
    """What the fit confidence means at the bench."""

    BOLTS_ON = "bolts_on"
    FITS_WITH_WORK = "fits_with_work"
    UNCERTAIN = "uncertain"
    DOES_NOT_FIT = "does_not_fit"


class Relation(StrEnum):
    """How one number stands in for another."""

    SUPERSEDES = "supersedes"
    SAME_AS = "same_as"
    REPLACES_WITH_CHANGES = "replaces_with_changes"


class Schedule(StrEnum):
    """How a supplier charges for delivery."""

    FLAT = "flat"
    PER_ITEM = "per_item"
    BY_WEIGHT = "by_weight"


class CustomsBasis(StrEnum):
    """What the customs value counts: the goods alone, or the goods with carriage and insurance."""

    GOODS = "goods"
    GOODS_AND_CARRIAGE = "goods_and_carriage"


class OptionKind(StrEnum):
    """The ways to go with a failed part."""

    CLEAN = "clean"
    REBUILD = "rebuild"
    REPLACE = "replace"
    STOP = "stop"


class MachineVerdict(StrEnum):
    """Whether the machine deserves the money."""

    WORTH_IT = "worth_it"
    MARGINAL = "marginal"
    NOT_WORTH_IT = "not_worth_it"


class Origin(StrEnum):
    """Where an assumption's value comes from; later ones win."""

    DEFAULT = "default"
    YOURS = "yours"
    OUTCOMES = "outcomes"
    JOB = "job"


class OutcomeKind(StrEnum):
    """What happened to an option once it was chosen."""

    FITTED = "fitted"
    DID_NOT_FIT = "did_not_fit"
    DEAD_ON_ARRIVAL = "dead_on_arrival"
    FAILED = "failed"
    STILL_RUNNING = "still_running"
    RETURNED = "returned"


class Condition(StrEnum):
    """The state of quoted goods."""

    NEW = "new"
    USED = "used"
    REMANUFACTURED = "remanufactured"


class Action(StrEnum):
    """What a change in the audit trail did."""

    CREATE = "create"
    UPDATE = "update"
    DELETE = "delete"
    RESTORE = "restore"


class Objection(StrEnum):
    """What speaks against an interchange statement."""

    CONTRADICTION = "contradiction"  # another statement about the same two numbers
    RING = "ring"  # statements by which a number would supersede itself
    DIMENSIONS = "dimensions"  # what the sheets of the two numbers list


class Decision(StrEnum):
    """What became of a proposed interchange."""

    CONFIRMED = "confirmed"
    REJECTED = "rejected"


class Doubt(StrEnum):
    """What an entry on a sheet stands against."""

    GROUP = "group"  # what the other parts of its design list
    PROPORTION = "proportion"  # the proportion to another dimension that the family's parts have


class EntrySlip(StrEnum):
    """How a wrong number may have come about."""

    INCHES = "inches"  # entered in inches, read as millimetres
    MILLIMETRES = "millimetres"  # entered in millimetres, read as inches
    UNIT = "unit"  # entered in another unit of its kind
    POINT = "point"  # the decimal point left out or misplaced
    DIGITS = "digits"  # a digit mistyped, or two exchanged
