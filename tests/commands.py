"""Starting the command in a process of its own, as a user does."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
CONFIGS = ROOT / "runs" / "configs"

# Large enough that no machine is done with it at once: third gears in plenty on eighteen rings.
LONG = """
title = "A long search"
[bodies]
set = "planets"
sense = "either"
[rings]
inner_teeth = 18
tooth_step = 6
blanks = 9
addendum = 0
[arbors]
wheel_teeth = {min = 4, max = 60}
pinion_teeth = {min = 4, max = 60}
third_gears = 8
third_teeth = {min = 4, max = 60}
[fit]
clearance = 0
[search]
time_limit_s = 100000
"""


def start(*words: str, cwd: Path, **options: object) -> subprocess.Popen[str]:
    """`python -m solver WORDS` in `cwd`, with its output in pipes."""
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    return subprocess.Popen(
        [sys.executable, "-m", "solver", *words],
        cwd=cwd,
        env=environment,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        **options,
    )


def run(*words: str, cwd: Path) -> tuple[int, str, str]:
    """Exit code, standard output and standard error of the command."""
    process = start(*words, cwd=cwd)
    out, err = process.communicate(timeout=300)
    return process.returncode, out, err
