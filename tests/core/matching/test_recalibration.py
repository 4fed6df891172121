"""What outcomes teach about the fit confidence: nothing from none, little from few, the truth from many."""

import math
from collections.abc import Callable, Sequence

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import minimize

from fitworth.matching.answer import Floats
from fitworth.matching.parameters import FitModel
from fitworth.matching.recalibration import (
    DEFAULT_PRIORS,
    NOTHING_TO_MEND,
    SAYS_FIT,
    SLOPE,
    STATEMENTS,
    FitForecast,
    LearningPriors,
    Recalibration,
    find_leaning,
    learn,
    shifted,
)
from fitworth.matching.track_record import score
from fitworth.vocabulary import Grade, OutcomeKind

WIDE = LearningPriors(shift_sd=50.0, slope_sd=50.0, statement_sd=50.0, least_slope=1e-3)


def forecast(said: float, fitted: bool, **leaning: float) -> FitForecast:
    return FitForecast("carburetor", Grade.OEM, said, leaning, fitted)


def told(learned: Recalibration, *said: float) -> list[float]:
    found: list[float] = learned.confidence(np.array(said)).tolist()
    return found


def invent(rng: np.random.Generator, count: int, shift: float, slope: float) -> list[FitForecast]:
    """Return forecasts of a forecaster whose log odds are wrong by a straight line."""
    said = rng.beta(4.0, 1.5, count)
    odds = shift + slope * np.log(said / (1.0 - said))
    fitted = rng.random(count) < 1.0 / (1.0 + np.exp(-odds))
    return [forecast(float(p), bool(y)) for p, y in zip(said, fitted, strict=True)]


def curvature(height: Callable[[Floats], float], at: Floats) -> Floats:
    """Return the second derivatives by central differences."""
    steps = np.eye(len(at)) * 1e-3
    return np.array(
        [
            [
                (height(at + a + b) - height(at + a - b) - height(at - a + b) + height(at - a - b)) / 4e-6
                for b in steps
            ]
            for a in steps
        ]
    )


forecasts = st.builds(
    forecast,
    st.floats(0.0, 1.0),
    st.booleans(),
    number=st.floats(-1.0, 1.0),
    engine=st.floats(-1.0, 1.0),
)


def test_a_return_says_nothing_of_the_fit_and_all_else_does() -> None:
    assert set(OutcomeKind) - set(SAYS_FIT) == {OutcomeKind.RETURNED}
    assert [kind for kind, fitted in SAYS_FIT.items() if not fitted] == [OutcomeKind.DID_NOT_FIT]


def test_without_outcomes_nothing_changes_at_all() -> None:
    learned, model = learn([]), FitModel()
    assert learned.is_identity
    assert told(learned, 0.0, 0.1, 0.94, 1.0) == [0.0, 0.1, 0.94, 1.0]
    assert learned.taught(model) is model
    assert learned.learned_misfit(0.06) == pytest.approx(0.06, abs=1e-15)
    assert learned.figures.tolist() == NOTHING_TO_MEND.tolist()
    assert learned.sds.tolist() == pytest.approx(DEFAULT_PRIORS.sds.tolist())


def test_a_veto_is_no_forecast() -> None:
    assert learn([forecast(0.0, fitted=True)] * 5).is_identity


@pytest.mark.parametrize("leaning", [{}, {"engine": 0.8}, {"number": 1.0}])
def test_three_failures_at_nine_in_ten_move_it_by_less_than_a_tenth(leaning: dict[str, float]) -> None:
    learned = learn([forecast(0.9, fitted=False, **leaning)] * 3)
    assert 0.8 < told(learned, 0.9)[0] < 0.87
    one = learn([forecast(0.9, fitted=False, **leaning)])
    assert 0.87 < told(one, 0.9)[0] < 0.9


def test_three_fits_at_nine_in_ten_hardly_move_it() -> None:
    assert told(learn([forecast(0.9, fitted=True)] * 3), 0.9)[0] == pytest.approx(0.9, abs=0.01)


@settings(max_examples=60, deadline=None)
@given(st.lists(forecasts, max_size=30), st.lists(forecasts, max_size=10))
def test_what_was_likelier_stays_likelier_and_all_stay_probabilities(
    own: Sequence[FitForecast], others: Sequence[FitForecast]
) -> None:
    learned = learn(own, others)
    found = np.array(told(learned, *np.linspace(0.0, 1.0, 41)))
    assert found[0] == 0.0
    assert found[-1] == 1.0
    assert np.all(np.diff(found) > 0.0)
    assert np.all(np.isfinite(learned.figures))
    assert np.all(np.linalg.eigvalsh(learned.covariance) > -1e-12)
    assert np.all(learned.sds <= DEFAULT_PRIORS.sds + 1e-12)


def test_the_slope_is_held_where_all_forecasts_were_upside_down() -> None:
    upside_down = [forecast(0.9, fitted=False), forecast(0.1, fitted=True), forecast(0.2, fitted=True)] * 200
    learned = learn(upside_down)
    assert learned.figures[SLOPE] == DEFAULT_PRIORS.least_slope
    assert learned.sds[SLOPE] == 0.0
    assert told(learned, 0.9)[0] > told(learned, 0.1)[0]
    # With the slope held, the rest is at its own best.
    mean = sum(learned.foresee(upside_down)) / len(upside_down)
    assert mean == pytest.approx(2 / 3, abs=0.02)


@pytest.mark.parametrize("priors", [DEFAULT_PRIORS, WIDE], ids=["usual", "wide"])
def test_the_peak_is_where_a_general_minimiser_finds_it(priors: LearningPriors) -> None:
    # scipy.optimize.minimize (BFGS) on the same objective, written out here anew.
    rng = np.random.default_rng(3)
    own = [
        forecast(f.said, f.fitted, number=float(rng.uniform(-1, 1)), engine=float(rng.random()))
        for f in invent(rng, 80, -0.8, 0.7)
    ]

    def height(figures: Floats) -> float:
        total = sum(((figures - NOTHING_TO_MEND) / priors.sds) ** 2) / 2.0
        for f in own:
            said = min(max(f.said, 0.01), 0.99)
            odds = figures[0] + figures[1] * math.log(said / (1.0 - said))
            odds += sum(
                figures[2 + i] * f.leaning[kind] for i, kind in enumerate(STATEMENTS) if kind in f.leaning
            )
            total += math.log1p(math.exp(-odds if f.fitted else odds))
        return float(total)

    best = minimize(height, NOTHING_TO_MEND, method="BFGS", options={"gtol": 1e-7})
    learned = learn(own, priors=priors)
    assert learned.figures == pytest.approx(best.x, abs=1e-4)
    assert np.linalg.inv(learned.covariance) == pytest.approx(curvature(height, best.x), rel=1e-3, abs=1e-3)


def test_steps_that_go_too_far_are_halved() -> None:
    # From 99 in 100, a thousand misfits send a full Newton step to where the curve is flat.
    learned = learn([forecast(0.99, fitted=False)] * 1000 + [forecast(0.99, fitted=True)] * 10, priors=WIDE)
    assert told(learned, 0.99)[0] == pytest.approx(10 / 1010, rel=0.01)


@pytest.mark.parametrize(("shift", "slope"), [(-0.8, 0.8), (0.4, 1.2), (0.0, 1.0)])
def test_three_hundred_outcomes_tell_what_a_forecaster_is_worth(shift: float, slope: float) -> None:
    learned = learn(invent(np.random.default_rng(11), 300, shift, slope))
    said = np.array([0.5, 0.7, 0.9])
    truth = 1.0 / (1.0 + np.exp(-(shift + slope * np.log(said / (1.0 - said)))))
    assert learned.confidence(said) == pytest.approx(truth, abs=0.06)


def test_what_was_learned_helps_with_outcomes_that_it_has_not_seen() -> None:
    rng = np.random.default_rng(5)
    learned = learn(invent(rng, 100, -1.0, 0.7))
    unseen = invent(rng, 2000, -1.0, 0.7)
    said, fitted = np.array([f.said for f in unseen]), np.array([float(f.fitted) for f in unseen])
    before, after = score(said, fitted), score(learned.confidence(said), fitted)
    assert after.log_loss < before.log_loss - 0.05
    assert after.brier < before.brier


def test_statements_are_blamed_where_the_confidence_leaned_on_them() -> None:
    sound = [forecast(0.85, fitted=place % 20 < 17) for place in range(60)]
    led_astray = [forecast(0.85, fitted=place % 2 == 0, engine=1.0) for place in range(60)]
    learned, model = learn([*sound, *led_astray]), FitModel()
    assert learned.change_of("engine") < -0.5
    assert learned.change_of("number") == pytest.approx(0.0, abs=1e-9)
    assert abs(learned.figures[0]) < 0.35
    taught = learned.taught(model)
    assert taught.engine_stated < model.engine_stated - 0.1
    assert taught.number_carried == pytest.approx(model.number_carried)
    # Without statements to lean on, the same misfits are the forecast's own.
    plain = learn([forecast(f.said, f.fitted) for f in (*sound, *led_astray)])
    assert plain.change_of("engine") == 0.0
    assert told(plain, 0.85)[0] < told(learned, 0.85)[0]


def test_a_statement_that_spoke_against_parts_that_fitted_is_believed_less() -> None:
    assert learn([forecast(0.3, fitted=True, engine=-0.7)] * 10).change_of("engine") < 0.0


def test_a_family_without_outcomes_borrows_and_one_with_many_stands_on_its_own() -> None:
    bold = [forecast(0.9, fitted=place % 10 > 2) for place in range(200)]
    good = [forecast(0.9, fitted=place % 10 > 0) for place in range(200)]
    borrowed = learn([], bold)
    assert (borrowed.outcomes, borrowed.borrowed) == (0, 200)
    assert not borrowed.is_identity
    assert told(borrowed, 0.9)[0] < 0.82
    assert told(learn(good, bold), 0.9)[0] == pytest.approx(0.9, abs=0.03)
    few = told(learn(good[:4], bold), 0.9)[0]
    assert told(borrowed, 0.9)[0] < few < told(learn(good, bold), 0.9)[0]
    # Others say less about a family than its own outcomes do.
    assert borrowed.sds[0] > learn(bold).sds[0]


def test_the_misfit_where_everything_agrees_follows_the_outcomes() -> None:
    learned = learn([forecast(0.94, fitted=place % 5 > 0) for place in range(100)])
    assert learned.learned_misfit(0.06) == pytest.approx(0.2, abs=0.05)


def test_a_confidence_leans_on_a_statement_as_far_as_it_falls_with_it() -> None:
    model = FitModel()
    said, leaning = find_leaning(lambda m: m.engine_stated, ["number", "engine"], model)
    assert said == model.engine_stated
    assert leaning == {"number": 0.0, "engine": pytest.approx(1.0)}
    said, leaning = find_leaning(lambda m: shifted(m.engine_stated, 1.0) ** 2, ["engine"], model)
    assert 0.0 < leaning["engine"] <= 1.0
    _, against = find_leaning(lambda m: 1.0 - m.engine_stated, ["engine"], model)
    assert against == {"engine": pytest.approx(-1.0)}


@pytest.mark.parametrize("sure", [0.0, 1.0])
def test_what_is_certain_leans_on_nothing(sure: float) -> None:
    assert find_leaning(lambda _: sure, ["engine"], FitModel()) == (sure, {})
