"""Prints one table: how good the fit confidence is on invented worlds, beside an oracle and other methods."""

import argparse
import importlib
import importlib.util
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from tests.benchmarks.fit_quality.advice import compare_courses
from tests.benchmarks.fit_quality.baselines import NO_HIDDEN_MISFIT, Exact, Independent, Method, Program
from tests.benchmarks.fit_quality.metrics import Asked, Ranked, Score, score
from tests.benchmarks.fit_quality.oracle import Known, Oracle
from tests.benchmarks.fit_quality.recipes import RECIPES
from tests.benchmarks.fit_quality.record_linkage import SplinkMethod
from tests.benchmarks.fit_quality.worlds import Question, World, make_world

SIZES = (60, 400, 3_000, 30_000)
OTHER_SIZES = (400, 3_000)  # of the flavours besides the plain one
WORLDS = {60: 10, 400: 5, 3_000: 2}  # of one size; 1 where it is not named
QUERIES = {60: 600, 400: 600}  # over all worlds of a size; 300 where it is not named
OTHER_QUERIES = 300
SIX = (6, 6)  # lengths measured where "nothing fits" is judged: with few, nobody can tell
NUMBERS = "tests.benchmarks.fit_quality.numbers"
NUMBER_SIZES = (100_000, 1_000_000)
COURSE_SIZES = (60, 400, 3_000)
COURSE_QUESTIONS = 60

HEAD = (
    f"{'flavour':<11}{'parts':>6} {'method':<12}{'log loss':>9}{'x oracle':>9}{'Brier':>7}{'ECE':>7}"
    f"{'top-1':>7}{'as is':>7} |{'none: Brier':>12}{'ECE':>7} | six:{'new AUC':>8}{'none AUC':>9} |"
    f"{'ms':>7}{'p95':>7}"
)
LEGEND = """
x oracle: log loss over that of the oracle on the same candidates (each method's own first 20).
as is: ECE of fitting without work. none: nothing on file fits. six: where six lengths are measured, the area
under the curve by which that tells parts whose design is not on file (new), and that nothing fits (none).
The oracle knows every part's true sizes; the others read sheets with holes, so that 1.0 is out of reach.
The holes for the bolts are not measured, so that a bolt spacing's play is 0.5 mm for truth and program alike.
splink was trained on labelled readings of the same worlds; it and "independent" do not say "nothing fits":
1 less their best candidate stands for it.
"""


@dataclass(frozen=True, slots=True)
class Trial:
    """Questions about some worlds of one flavour and size, with what is true and what can be known."""

    worlds: tuple[World, ...]
    questions: tuple[tuple[Question, ...], ...]
    known: tuple[Known, ...]

    @property
    def asked(self) -> list[Asked]:
        """All questions in order."""
        flat = [question for some in self.questions for question in some]
        return [
            Asked(one.truth, one.as_it_comes, one.not_on_file, known.fits)
            for one, known in zip(flat, self.known, strict=True)
        ]

    def answers(self, method: Method) -> list[Ranked]:
        """Return a method's answers."""
        return [
            answer
            for world, some in zip(self.worlds, self.questions, strict=True)
            for answer in method.answer(world, some)
        ]


def main() -> None:
    """Print the table."""
    chosen = _arguments().parse_args()
    _say(HEAD)
    for flavour, size in _plan(chosen):
        worlds = tuple(make_world(flavour, size, seed) for seed in range(WORLDS.get(size, 1)))
        count = chosen.queries or (QUERIES.get(size, OTHER_QUERIES) if flavour == "bench" else OTHER_QUERIES)
        if chosen.quick:
            worlds, count = worlds[:3], chosen.queries or 90
        for line in _rows(flavour, size, worlds, max(1, count // len(worlds))):
            _say(line)
    _say(LEGEND)
    if SplinkMethod.missing():
        _say("SPLINK IS NOT INSTALLED, ITS ROWS ARE LEFT OUT: `pip install --group benchmark` adds it.\n")
    if not chosen.quick:
        _say_courses(chosen.sizes)
        _say_numbers()


def _arguments() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--sizes", type=int, nargs="+", help="numbers of parts on file", default=list(SIZES))
    parser.add_argument("--queries", type=int, help="questions for each flavour and size", default=0)
    parser.add_argument("--flavours", nargs="+", choices=sorted(RECIPES), default=list(RECIPES))
    parser.add_argument("--quick", action="store_true", help="under a minute: the plain flavour, small")
    return parser


def _plan(chosen: argparse.Namespace) -> Iterator[tuple[str, int]]:
    """Yield the flavours and sizes of the table."""
    if chosen.quick:
        yield from (("bench", size) for size in chosen.sizes if size in WORLDS and size <= min(OTHER_SIZES))
        return
    for flavour in chosen.flavours:
        for size in chosen.sizes:
            if flavour == "bench" or size in OTHER_SIZES or list(chosen.sizes) != list(SIZES):
                yield flavour, size


def _rows(flavour: str, size: int, worlds: tuple[World, ...], count: int) -> Iterator[str]:
    """Yield the table's rows of one flavour and size."""
    oracles = [Oracle(world) for world in worlds]
    trial = _open_trial(worlds, oracles, [world.ask(count) for world in worlds])
    six = _open_trial(worlds, oracles, [world.ask(count, seed=6, lengths=SIX) for world in worlds])
    methods: list[tuple[Method, Method]] = [(Exact(trial.known), Exact(six.known)), (Program(), Program())]
    if not SplinkMethod.missing():
        methods.append((SplinkMethod(), SplinkMethod()))
    methods.append((Independent(), Independent()))
    for plain, with_six in methods:
        did = score(trial.answers(plain), trial.asked)
        did_six = score(six.answers(with_six), six.asked)
        yield _row(f"{flavour:<11}{size:>6} {plain.name:<12}", did, did_six)


def _open_trial(
    worlds: tuple[World, ...], oracles: Sequence[Oracle], questions: Sequence[Sequence[Question]]
) -> Trial:
    known = [
        exact.answer(question) for exact, some in zip(oracles, questions, strict=True) for question in some
    ]
    return Trial(worlds, tuple(tuple(some) for some in questions), tuple(known))


def _row(name: str, did: Score, six: Score) -> str:
    comes = "" if np.isnan(did.as_it_comes_ece) else f"{did.as_it_comes_ece:.3f}"
    spent = f"{did.ms:7.1f}{did.late_ms:7.1f}" if did.ms else ""
    return (
        f"{name}{did.log_loss:9.3f}{did.ratio:9.2f}{did.brier:7.3f}{did.ece:7.3f}{did.top_1:7.3f}{comes:>7} |"
        f"{did.nothing_brier:12.3f}{did.nothing_ece:7.3f} |     {six.auc_not_on_file:8.3f}"
        f"{six.auc_nothing:9.3f} |{spent}"
    )


def _say_courses(sizes: Sequence[int]) -> None:
    _say("Measurements until the first candidate is 95 % certain, of removed parts that some part fits:")
    for size in (one for one in COURSE_SIZES if one in sizes):
        world = make_world("bench", size, 0)
        for course in compare_courses(world, world.ask(COURSE_QUESTIONS, seed=3), NO_HIDDEN_MISFIT):
            _say(
                f"{size:>17} {course.way:<14}{course.measurements:6.2f} on average, "
                f"{course.certain:4.0%} certain, {course.right:4.0%} of them right"
            )
    _say("")


def _say_numbers() -> None:
    if importlib.util.find_spec(NUMBERS) is None:
        return
    _say("Worn and misread numbers:")
    for row in importlib.import_module(NUMBERS).table(NUMBER_SIZES):
        shown = (f"{k} {v:.3g}" if isinstance(v, float) else f"{k} {v}" for k, v in row.items())
        _say("  " + ", ".join(shown))


def _say(line: str) -> None:
    sys.stdout.write(f"{line}\n")
    sys.stdout.flush()
