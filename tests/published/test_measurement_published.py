"""Uncertainty of measurement against published figures, each with its source."""

import pytest
from scipy import stats

from fitworth.matching.instruments import LIMITS
from fitworth.quantities.uncertainty import Component, combine, rectangular
from fitworth.vocabulary import Instrument, Kind


def test_end_gauge_calibration_of_the_guide() -> None:
    # JCGM 100:2008, H.1, in nanometres. Degrees of freedom of the standard (18) and of the two thermal terms
    # (50 and 2) after its table H.1, from memory; those of the difference, 25.6, as read.
    # The thermal terms are rectangular, from memory: +-1e-6 1/K at -0.1 K, and +-0.05 K at 11.5e-6 1/K.
    gauge_nm = 50.000623e6
    expansion = rectangular(gauge_nm * 1e-6 * 0.1).standard_uncertainty
    temperature = rectangular(gauge_nm * 11.5e-6 * 0.05).standard_uncertainty
    assert (round(expansion, 1), round(temperature, 1)) == (2.9, 16.6)
    combined = combine(
        [Component(25.0, 18.0), Component(9.7, 25.6), Component(expansion, 50.0), Component(temperature, 2.0)]
    )
    assert combined.standard_uncertainty == pytest.approx(31.669, abs=5e-4)
    assert round(combined.standard_uncertainty) == 32
    freedom = int(combined.degrees_of_freedom)
    assert freedom == 16
    t99 = stats.t.ppf(0.995, freedom)
    assert t99 == pytest.approx(2.92, abs=5e-3)
    assert round(round(t99, 2) * 32) == 93


@pytest.mark.parametrize(
    ("half_width_mm", "standard_mm"), [(0.02, 0.0115), (0.04, 0.0231), (0.05, 0.0289), (0.07, 0.0404)]
)
def test_caliper_limits_as_standard_uncertainty(half_width_mm: float, standard_mm: float) -> None:
    # DIN 862, 10 to 50 mm: digital outside, digital inside and depth, vernier outside, vernier inside;
    # a / sqrt(3) by JCGM 100:2008, 4.3.7.
    assert rectangular(half_width_mm).standard_uncertainty == pytest.approx(standard_mm, abs=5e-5)


@pytest.mark.parametrize(
    ("instrument", "limit_mm"), [(Instrument.CALIPER_OUTSIDE, 0.02), (Instrument.CALIPER_INSIDE, 0.04)]
)
def test_the_table_of_instruments_holds_the_standard_caliper(instrument: Instrument, limit_mm: float) -> None:
    # DIN 862, digital, 10 to 50 mm.
    assert LIMITS[instrument, Kind.LENGTH].absolute == limit_mm
    assert "DIN 862" in LIMITS[instrument, Kind.LENGTH].source
