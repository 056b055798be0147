"""The benchmarks run; how fast they are is not the tests' business."""

from __future__ import annotations

import subprocess
import sys

from commands import ROOT

from benchmarks.hand import inside_out
from solver import Design, solve


def test_the_timing_table_is_printed():
    done = subprocess.run(
        [sys.executable, "-m", "benchmarks.timing", "--smoke"], cwd=ROOT, capture_output=True, text=True, timeout=300
    )
    assert done.returncode == 0, done.stderr
    assert "saturn-hall" in done.stdout and "0.5739" in done.stdout


def test_the_hand_method_is_never_better_than_the_proven_best():
    design = Design.load(ROOT / "runs" / "configs" / "saturn-hall.toml")
    best = solve(design).solutions[0].worst_error_pct / 100
    errors = [error for structure in design.structures() if (error := inside_out(design, structure)) is not None]
    assert errors and min(errors) >= best - 1e-15
