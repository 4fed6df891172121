"""Fellegi and Sunter's record linkage by the public library Splink, as a trained user of it would set it up.

Readings are linked to the catalogue. Each length has levels by bands of the difference, each word a level for
the same one; holes are null levels. How often unrelated pairs fall in each level is estimated by random
sampling, how often pairs of one design do from further readings whose group is known, and the share of
fitting pairs from the same: more help than anybody at a bench has. Its match probability is its confidence.

The library is not needed for anything else; `SplinkMethod.missing()` says whether it is installed.
"""

import importlib.util
import logging
from collections.abc import Sequence
from typing import Any

import numpy as np

from fitworth.quantities.quantity import Quantity, Value
from tests.benchmarks.fit_quality.baselines import ranked
from tests.benchmarks.fit_quality.metrics import Ranked
from tests.benchmarks.fit_quality.windows import Floats
from tests.benchmarks.fit_quality.worlds import Question, World

BANDS_MM = (0.15, 0.5, 1.0)
TRAINING_QUESTIONS = 300
TRAINING_SEED = 77  # questions of this seed are asked in no other place
SAMPLED_PAIRS = 1e6


class SplinkMethod:
    """The trained linkage model."""

    name = "splink"

    @staticmethod
    def missing() -> bool:
        """Return whether the library is not installed."""
        return importlib.util.find_spec("splink") is None

    def answer(self, world: World, questions: Sequence[Question]) -> list[Ranked]:
        """Return its answers."""
        logging.getLogger("splink").setLevel(logging.ERROR)
        model = _train(world)
        return [ranked(chance) for chance in _predict(world, questions, model)]


def _train(world: World) -> dict[str, Any]:
    from splink import DuckDBAPI, Linker

    questions = world.ask(TRAINING_QUESTIONS, seed=TRAINING_SEED)
    database = DuckDBAPI()
    tables = [database.register(_readings(world, questions)), database.register(_listed(world))]
    share = float(np.mean([question.truth.mean() for question in questions]))
    linker = Linker(tables, _settings(world, share), log_level=logging.ERROR)
    linker.training.estimate_u_using_random_sampling(max_pairs=SAMPLED_PAIRS, seed=1)
    linker.training.estimate_m_from_label_column("design")
    model: dict[str, Any] = linker.misc.save_model_to_json()
    return model


def _predict(world: World, questions: Sequence[Question], model: dict[str, Any]) -> Floats:
    """Return the match probability of each question and part, (n_questions, n_parts)."""
    from splink import DuckDBAPI, Linker

    database = DuckDBAPI()
    tables = [database.register(_readings(world, questions)), database.register(_listed(world))]
    linker = Linker(tables, model, log_level=logging.ERROR)
    found = linker.inference.predict().as_duckdbpyrelation()
    columns = found.select("unique_id_l, unique_id_r, match_probability").fetchnumpy()
    left, right = (columns[name].astype(np.int64) for name in ("unique_id_l", "unique_id_r"))
    # Parts have ids from 0 up, readings from -1 down, whichever side the library puts them on.
    part, reading = np.maximum(left, right), -1 - np.minimum(left, right)
    chances = np.zeros((len(questions), len(world.catalogue)))
    chances[reading, part] = columns["match_probability"]
    return chances


def _settings(world: World, share: float) -> Any:
    import splink.comparison_level_library as levels
    import splink.comparison_library as comparisons
    from splink import SettingsCreator
    from splink.blocking_rule_library import CustomRule

    compared = []
    for length in world.palette.lengths:
        bands = [levels.AbsoluteDifferenceLevel(length.key, band) for band in BANDS_MM]
        steps = [levels.NullLevel(length.key), *bands, levels.ElseLevel()]
        compared.append(comparisons.CustomComparison(steps, output_column_name=length.key))
    for word in world.palette.words:
        steps = [levels.NullLevel(word.key), levels.ExactMatchLevel(word.key), levels.ElseLevel()]
        compared.append(comparisons.CustomComparison(steps, output_column_name=word.key))
    return SettingsCreator(
        link_type="link_only",
        comparisons=compared,
        blocking_rules_to_generate_predictions=[CustomRule("1 = 1")],
        probability_two_random_records_match=share,
        retain_matching_columns=False,
    )


def _listed(world: World) -> Any:
    """Return the catalogue as a table; its true groups are there for training only."""
    columns: dict[str, Any] = {"unique_id": np.arange(len(world.catalogue))}
    rows = np.arange(len(world.catalogue))
    for dimension in (*world.palette.lengths, *world.palette.words):
        values = world.catalogue.list_values(dimension, rows)
        columns[dimension.key] = [_plain(value) for value in values]
    return _table(world, columns, world.group.tolist())


def _readings(world: World, questions: Sequence[Question]) -> Any:
    """Return readings as a table."""
    columns: dict[str, Any] = {"unique_id": -1 - np.arange(len(questions))}
    for dimension in (*world.palette.lengths, *world.palette.words):
        read = [question.query.measured.get(dimension.key) for question in questions]
        columns[dimension.key] = [_plain(value) for value in read]
    return _table(world, columns, [one.group if one.group >= 0 else None for one in questions])


def _table(world: World, columns: dict[str, Any], designs: Sequence[int | None]) -> Any:
    import pyarrow as pa

    kinds = {length.key: pa.float64() for length in world.palette.lengths}
    kinds |= {word.key: pa.string() for word in world.palette.words}
    words = {word.key for word in world.palette.words}
    texts = {key: [None if one is None else str(one) for one in columns[key]] for key in words}
    arrays = {key: pa.array(values, kinds.get(key, pa.int64())) for key, values in (columns | texts).items()}
    return pa.table(arrays | {"design": pa.array(designs, pa.int64())})


def _plain(value: Value | None) -> float | str | bool | None:
    if isinstance(value, Quantity):
        return value.value
    return value if isinstance(value, str | bool) else None
