"""Standard studs, the holes that they clear, and how far a hole may lie off.

Clearance holes after ISO 273 (fine, medium, coarse) and ASME B18.2.8 (close, normal, loose); M5 to M10 and
#10 to 3/8 in as read, the other rows from memory (ISO 273 compared with a public table). Formulas after
ASME Y14.5.
"""

from dataclasses import dataclass

from fitworth.errors import InvalidValueError


@dataclass(frozen=True, slots=True)
class Stud:
    """A stud or screw of a standard series.

    Attributes:
        name: "M6" or "1/4 in".
        diameter_mm: nominal diameter of its thread.
        close_mm: the smallest standard clearance hole, ISO 273 fine or ASME B18.2.8 close.
        normal_mm: ISO 273 medium or ASME B18.2.8 normal.
        loose_mm: ISO 273 coarse or ASME B18.2.8 loose.
    """

    name: str
    diameter_mm: float
    close_mm: float
    normal_mm: float
    loose_mm: float


STUDS: tuple[Stud, ...] = (
    Stud("M3", 3.0, 3.2, 3.4, 3.6),
    Stud("M4", 4.0, 4.3, 4.5, 4.8),
    Stud("#8", 4.1656, 4.6, 5.0, 5.4),
    Stud("#10", 4.826, 5.2, 5.6, 6.0),
    Stud("M5", 5.0, 5.3, 5.5, 5.8),
    Stud("M6", 6.0, 6.4, 6.6, 7.0),
    Stud("1/4 in", 6.35, 6.8, 7.1, 7.5),
    Stud("5/16 in", 7.9375, 8.3, 8.7, 9.1),
    Stud("M8", 8.0, 8.4, 9.0, 10.0),
    Stud("3/8 in", 9.525, 9.9, 10.3, 10.7),
    Stud("M10", 10.0, 10.5, 11.0, 12.0),
    Stud("7/16 in", 11.1125, 11.5, 11.9, 12.3),
    Stud("M12", 12.0, 13.0, 13.5, 14.5),
    Stud("1/2 in", 12.7, 13.5, 14.3, 15.5),
    Stud("M14", 14.0, 15.0, 15.5, 16.5),
    Stud("M16", 16.0, 17.0, 17.5, 18.5),
)
"""Metric and inch studs met on small engines, by diameter."""

READ_SMALL_MM = 0.1
"""How much smaller than the standard a hole may read and still count [mm].

Own choice: burrs and jaws read small; a 17/64 in hole, drilled for 1/4 in, is 6.75 mm, in the table 6.8.
"""


def largest_standard_stud_mm(hole_mm: float) -> Stud:
    """Return the largest standard stud that a hole clears: what is assumed where no stud was measured.

    A stud counts as cleared where its smallest standard clearance hole is no larger than the hole, metric and
    inch series alike, with `READ_SMALL_MM` in hand for holes that read small. Own choice, because the largest
    stud leaves the least play: it does not promise a fit that a measured stud would deny.

    Args:
        hole_mm: diameter of the hole [mm].

    Returns:
        The stud, its sizes [mm].

    Raises:
        InvalidValueError: the hole is smaller than any stud's or larger than the table's last.

    Examples:
        >>> largest_standard_stud_mm(6.5).name
        'M6'
    """
    cleared = [stud for stud in STUDS if stud.close_mm <= round(hole_mm + READ_SMALL_MM, 6)]
    if not cleared or hole_mm > STUDS[-1].loose_mm:
        raise InvalidValueError(
            f"No standard stud belongs to a hole of {hole_mm:g} mm: measure the stud itself. "
            f"Holes from {STUDS[0].close_mm:g} to {STUDS[-1].loose_mm:g} mm are known."
        )
    return max(cleared, key=lambda stud: stud.diameter_mm)


def floating_tolerance_mm(hole_mm: float, fastener_mm: float) -> float:
    """Return how far each hole of a loose bolt through two clearance holes may lie off: T = H - F.

    Two studs that stand fast take the same difference in the distance of a part's two holes. ASME Y14.5.

    Args:
        hole_mm: smallest diameter H of the clearance holes [mm].
        fastener_mm: largest diameter F of the fastener [mm].

    Examples:
        >>> round(floating_tolerance_mm(6.44, 6.0), 6)
        0.44
    """
    return hole_mm - fastener_mm


def fixed_tolerance_mm(hole_mm: float, fastener_mm: float) -> float:
    """Return the tolerance of each of two parts where one holds the fastener: T = (H - F) / 2 (ASME Y14.5).

    Args:
        hole_mm: smallest diameter H of the clearance hole [mm].
        fastener_mm: largest diameter F of the fastener [mm].
    """
    return floating_tolerance_mm(hole_mm, fastener_mm) / 2.0


@dataclass(frozen=True, slots=True)
class LeaningFastener:
    """A fastener held fast in one part that may lean, so that its tip is further off than its root.

    Attributes:
        fastener_mm: largest diameter F.
        clearance_tolerance_mm: position tolerance T1 of the clearance hole.
        tapped_tolerance_mm: position tolerance T2 of the hole that holds it.
        projection_mm: P, the thickness of the part that it passes through.
        depth_mm: D, how deep it is held.
    """

    fastener_mm: float
    clearance_tolerance_mm: float
    tapped_tolerance_mm: float
    projection_mm: float
    depth_mm: float


def smallest_hole_mm(fastener: LeaningFastener) -> float:
    """Return the smallest clearance hole that lets a leaning fastener pass: H = F + T1 + T2 (1 + 2 P / D).

    ASME Y14.5, fixed fasteners without a projected tolerance zone.

    Args:
        fastener: the fastener and the two tolerances.

    Returns:
        Hole diameter [mm].
    """
    lean = 1.0 + 2.0 * fastener.projection_mm / fastener.depth_mm
    return fastener.fastener_mm + fastener.clearance_tolerance_mm + fastener.tapped_tolerance_mm * lean
