"""The built-in families in the match: coils, plugs, keys and contact sets answer as the bench would."""

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

import pytest

import fitworth.families
from fitworth.families.parse import parse_family
from fitworth.matching.answer import CandidateFit, FitQuery
from fitworth.matching.catalogue import Catalogue
from fitworth.matching.evidence import NumberEvidence
from fitworth.matching.fit import find_fits
from fitworth.matching.measurements import read_values
from fitworth.matching.numbers import NumberMatch
from fitworth.vocabulary import Instrument, Status, Verdict

Sheet = Mapping[str, Any]
Ask = Callable[..., dict[int, CandidateFit]]
RANKED = {Verdict.BOLTS_ON, Verdict.FITS_WITH_WORK}

PLUG: Sheet = {
    "thread": "m14x1.25",
    "reach": "12.7 mm",
    "seat": "gasket",
    "projected_tip": "0 mm",
    "hexagon": "20.8 mm",
    "resistor": "plain",
    "terminal": "thread",
}
COIL: Sheet = {
    "mounting_hole_spacing": "52.0 mm",
    "mounting_hole_diameter": "6.5 mm",
    "pole_face_radius": "89.0 mm",
    "coil_position": "outside",
    "leg_count": 2,
    "leg_spacing": "50.0 mm",
    "trigger": "solid_state",
    "stop_terminal": "blade_6_3",
}
KEY: Sheet = {
    "kind": "straight",
    "width": "4.76 mm",
    "height": "4.76 mm",
    "length": "20.0 mm",
    "offset": "0.00 mm",
    "material": "soft_alloy",
}
CONTACTS: Sheet = {
    "mounting_hole_spacing": "26.0 mm",
    "pivot_diameter": "5.0 mm",
    "arm_length": "24.0 mm",
    "can_diameter": "18.0 mm",
}


@pytest.fixture
def ask() -> Ask:
    """Return a question of some sheets, with ids from 1, to a built-in family; the fits by part."""

    def find(
        key: str,
        sheets: Sequence[Sheet],
        measured: Sheet,
        numbers: Sequence[NumberEvidence] = (),
        **known: Any,
    ) -> dict[int, CandidateFit]:
        file = Path(fitworth.families.__file__).with_name(f"{key}.toml")
        family = parse_family(file.read_bytes(), file.name)
        catalogue = Catalogue(family)
        packed = [
            catalogue.layout.pack(read_values(family, dict(sheet), Instrument.LISTING)) for sheet in sheets
        ]
        ids = range(1, len(packed) + 1)
        catalogue.upsert(ids, packed, ["Quillon"] * len(packed), [()] * len(packed))
        seen = read_values(family, dict(measured), Instrument.CALIPER_OUTSIDE)
        answer = find_fits(
            catalogue, FitQuery(seen, limit=20, **known), number_evidence=numbers, part_ids=ids
        )
        return {fit.part_id: fit for fit in answer.fits}

    return find


def compared(fit: CandidateFit, key: str) -> Status:
    return next(one.status for one in fit.dimensions if one.key == key)


LONG = {**PLUG, "reach": "19.0 mm"}
NAMED = [NumberEvidence("known_number", {7: NumberMatch("V-6L", 1.0)})]
READ = [NumberEvidence("marking", {7: NumberMatch("V-6L", 1.0)})]


@pytest.mark.parametrize("numbers", [[], NAMED, READ, NAMED + READ], ids=["none", "known", "marked", "both"])
@pytest.mark.parametrize("others", [PLUG, LONG], ids=["right_reach", "same_wrong_reach"])
def test_a_plug_of_too_long_a_reach_never_shows_as_fitting(
    ask: Ask, others: Sheet, numbers: list[NumberEvidence]
) -> None:
    fits = ask("spark_plug", [*[others] * 3, *[PLUG] * 3, LONG], PLUG, numbers)
    assert (fits[7].verdict, fits[7].fit_confidence, fits[7].vetoed) == (Verdict.DOES_NOT_FIT, 0.0, True)
    assert compared(fits[7], "reach") is Status.DIFFERS
    assert list(fits)[-1] == 7 or all(fits[part].vetoed for part in list(fits)[list(fits).index(7) :])


@pytest.mark.parametrize(
    ("key", "wrong"),
    [("thread", "m12x1.25"), ("seat", "taper"), ("projected_tip", "3.0 mm"), ("reach", "9.5 mm")],
)
def test_a_plug_that_differs_where_it_is_a_matter_of_safety_is_out(ask: Ask, key: str, wrong: str) -> None:
    fits = ask("spark_plug", [*[PLUG] * 5, {**PLUG, key: wrong}], PLUG)
    assert (fits[6].verdict, fits[6].fit_confidence) == (Verdict.DOES_NOT_FIT, 0.0)
    assert fits[1].fit_confidence > 0.8


def test_a_plug_is_not_called_sure_before_its_heat_range_is_known(ask: Ask) -> None:
    assert ask("spark_plug", [PLUG] * 4, PLUG)[1].verdict is Verdict.UNCERTAIN


@pytest.mark.parametrize("key", ["reach", "thread", "seat"])
def test_a_plug_that_does_not_list_what_safety_asks_is_not_called_sure(ask: Ask, key: str) -> None:
    silent = {name: value for name, value in PLUG.items() if name != key}
    fit = ask("spark_plug", [*[PLUG] * 5, silent], PLUG)[6]
    assert compared(fit, key) is Status.NOT_LISTED
    assert fit.verdict not in RANKED


def test_two_sizes_of_one_spanner_are_the_same(ask: Ask) -> None:
    inch = {**PLUG, "hexagon": "13/16 in"}
    fits = ask("spark_plug", [*[PLUG] * 3, *[inch] * 3], PLUG)
    assert {compared(fit, "hexagon") for fit in fits.values()} == {Status.AGREES}


@pytest.mark.parametrize(("key", "wrong"), [("material", "steel"), ("offset", "1.0 mm"), ("width", "4.0 mm")])
def test_a_key_that_differs_where_it_is_a_matter_of_safety_never_ranks(
    ask: Ask, key: str, wrong: str
) -> None:
    fits = ask("flywheel_key", [*[KEY] * 5, {**KEY, key: wrong}], KEY)
    assert (fits[6].verdict, fits[6].fit_confidence, fits[6].vetoed) == (Verdict.DOES_NOT_FIT, 0.0, True)
    assert compared(fits[6], key) is Status.DIFFERS
    assert fits[1].verdict is Verdict.BOLTS_ON


def test_a_steel_key_stays_out_though_its_number_is_the_very_one(ask: Ask) -> None:
    number = [NumberEvidence("known_number", {4: NumberMatch("55-3", 1.0)})]
    fits = ask("flywheel_key", [*[KEY] * 3, {**KEY, "material": "steel"}], KEY, number, known_number="55-3")
    assert (fits[4].verdict, fits[4].fit_confidence) == (Verdict.DOES_NOT_FIT, 0.0)


def test_a_coil_of_the_right_sizes_bolts_on_and_one_of_another_engine_does_not_fit(ask: Ask) -> None:
    other = {
        **COIL,
        "mounting_hole_spacing": "60.0 mm",
        "pole_face_radius": "64.0 mm",
        "leg_spacing": "38.0 mm",
        "coil_position": "under",
        "trigger": "points",
    }
    fits = ask("ignition_coil", [*[COIL] * 3, *[other] * 3], COIL)
    assert min(fits[part].fit_confidence for part in (1, 2, 3)) > 0.8
    assert {fits[part].verdict for part in (4, 5, 6)} == {Verdict.DOES_NOT_FIT}


def test_another_stop_terminal_needs_work(ask: Ask) -> None:
    pin = {**COIL, "stop_terminal": "pin"}
    fits = ask("ignition_coil", [*[COIL] * 3, *[pin] * 3], COIL)
    assert fits[1].with_work.probability < 0.3
    assert compared(fits[4], "stop_terminal") is Status.DIFFERS
    assert fits[4].with_work.probability > 0.5
    assert fits[4].with_work.minutes > 0.0


def test_contacts_of_the_right_sizes_run_and_those_of_another_make_do_not(ask: Ask) -> None:
    other = {
        **CONTACTS,
        "mounting_hole_spacing": "30.0 mm",
        "arm_length": "28.0 mm",
        "can_diameter": "22.0 mm",
    }
    fits = ask("contact_set", [*[CONTACTS] * 3, *[other] * 3], CONTACTS)
    assert min(fits[part].fit_confidence for part in (1, 2, 3)) > 0.8
    assert max(fits[part].fit_confidence for part in (4, 5, 6)) < 0.05
