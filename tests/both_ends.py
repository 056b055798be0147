"""Runs the tests with the oldest and with the newest release that pyproject.toml allows of packages whose insides we
know: in one environment the oldest of all that are named, in another one the newest.

Usage: python tests/both_ends.py PACKAGE... [-- pytest arguments]. Without arguments for pytest, the tests that the
packages are there for. Environments stay under .venv-oldest-* and .venv-newest-* for the next time.
"""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
EXTRAS = ".[dev,sheets,service,sky]"
# Which tests a package is there for, where that is not all of them.
TESTS = {"uvicorn": ("test_service_*.py", "page/test_*.py")}


def bounds(package: str) -> tuple[str, str]:
    """The requirement that pins the oldest release of a package, and the range itself, for which pip takes the newest.
    Raises SystemExit where pyproject.toml has no range for it."""
    text = (ROOT / "pyproject.toml").read_text(encoding="utf-8")
    match = re.search(rf'"{re.escape(package)}>=([\d.]+),(<[\d.]+)"', text)
    if match is None:
        raise SystemExit(f"pyproject.toml has no range for {package}")
    return f"{package}=={match[1]}.*", f"{package}>={match[1]},{match[2]}"


def chosen_tests(packages: list[str]) -> list[str]:
    """The arguments for pytest that are enough for these packages."""
    wanted = {pattern for package in packages for pattern in TESTS.get(package, ("tests",))}
    if "tests" in wanted:
        return ["tests"]
    return [str(path.relative_to(ROOT)) for pattern in sorted(wanted) for path in sorted(ROOT.glob(f"tests/{pattern}"))]


def main(words: list[str]) -> int:
    """The worst of pytest's exit codes."""
    end_of_names = words.index("--") if "--" in words else len(words)
    names, arguments = words[:end_of_names], words[end_of_names + 1 :]
    if not names:
        raise SystemExit(__doc__)
    wanted, worst = list(zip(*map(bounds, names), strict=True)), 0
    for end, requirements in zip(("oldest", "newest"), wanted, strict=True):
        folder = ROOT / f".venv-{end}-{'-'.join(names)}"
        python = folder / "bin" / "python"
        if not python.exists():
            subprocess.run([sys.executable, "-m", "venv", str(folder)], check=True)
        install = [str(python), "-m", "pip", "install", "--quiet", "--upgrade", *requirements, "--editable", EXTRAS]
        subprocess.run(install, check=True, cwd=ROOT)
        say = f"from importlib.metadata import version; [print(n, version(n), flush=True) for n in {names}]"
        subprocess.run([str(python), "-c", say], check=True)
        told = arguments or ["-n", "auto", *chosen_tests(names)]
        worst = max(worst, subprocess.run([str(python), "-m", "pytest", *told], cwd=ROOT).returncode)
    return worst


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
