"""Runs the tests with the oldest and with the newest ortools that pyproject.toml allows, each in its own environment.

Usage: python tests/both_ortools.py [pytest arguments]. Environments stay under .venv-ortools-* for the next time.
"""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]


def bounds() -> tuple[str, str]:
    """The requirement that pins the oldest release, and the range itself, for which pip takes the newest."""
    text = (ROOT / "pyproject.toml").read_text(encoding="utf-8")
    match = re.search(r'"ortools>=([\d.]+),(<[\d.]+)"', text)
    if match is None:
        raise SystemExit("pyproject.toml has no range for ortools")
    return f"ortools=={match[1]}.*", f"ortools>={match[1]},{match[2]}"


def main() -> int:
    worst = 0
    for name, requirement in zip(("oldest", "newest"), bounds(), strict=True):
        folder = ROOT / f".venv-ortools-{name}"
        python = folder / "bin" / "python"
        if not python.exists():
            subprocess.run([sys.executable, "-m", "venv", str(folder)], check=True)
        install = [str(python), "-m", "pip", "install", "--quiet", "--upgrade", requirement, "--editable", ".[dev]"]
        subprocess.run(install, check=True, cwd=ROOT)
        say = "from importlib.metadata import version; print('ortools', version('ortools'), flush=True)"
        subprocess.run([str(python), "-c", say], check=True)
        worst = max(
            worst, subprocess.run([str(python), "-m", "pytest", "-n", "auto", *sys.argv[1:]], cwd=ROOT).returncode
        )
    return worst


if __name__ == "__main__":
    sys.exit(main())
