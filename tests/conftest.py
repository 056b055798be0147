"""Which of the random designs a run enumerates afresh; and no test leaves processes behind."""

from __future__ import annotations

import gc
import re
import sys
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import enumerated
import pytest

MARKS = ("slow", "deep")
gc.disable()  # until all is imported


def pytest_addoption(parser: pytest.Parser) -> None:
    words = "the tenth of the random designs to be enumerated afresh: 0 to 9, all or none; else by the date"
    parser.addoption("--enumerate", choices=[*map(str, range(10)), "all", "none"], help=words)


def pytest_configure(config: pytest.Config) -> None:
    if config.option.enumerate is None:
        config.option.enumerate = str(date.today().toordinal() % 10)  # workers are handed what their master chose
    enumerated.fresh = config.option.enumerate


def pytest_ignore_collect(collection_path: Path, config: pytest.Config) -> bool | None:
    """Modules that are left out as a whole are not even imported."""
    if not collection_path.match("test_*.py"):
        return None
    text, asked = collection_path.read_text(encoding="utf-8"), config.option.markexpr
    if asked == "deep or enumerated":
        return not re.search(r"mark\.(deep|enumerated)\b", text) or None
    return any(f"not {mark}" in asked and f"\npytestmark = pytest.mark.{mark}\n" in text for mark in MARKS) or None


def pytest_collection_finish() -> None:
    gc.enable()
    gc.freeze()  # what is imported stays; to look through it for garbage takes a second each time


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter, config: pytest.Config) -> None:
    if not hasattr(config, "workerinput"):
        terminalreporter.write_line(f"random designs enumerated afresh: --enumerate {config.option.enumerate}")


@pytest.fixture(autouse=True)
def _nothing_left() -> Iterator[None]:
    yield
    if "sweeping" in sys.modules:
        sys.modules["sweeping"].end_all()
