"""Run: `.venv/bin/python tests/benchmarks/fit_quality [--quick] [--sizes 60 400] [--queries 300]`."""

import importlib
import sys
from pathlib import Path

# Started as a folder, Python looks for modules here first, where `numbers` would hide the standard library's.
FOLDER = Path(__file__).resolve().parent
sys.path[:] = [str(FOLDER.parents[2]), *(entry for entry in sys.path if Path(entry).resolve() != FOLDER)]

importlib.import_module("tests.benchmarks.fit_quality.report").main()
