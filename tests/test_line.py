"""The line of progress on a terminal: there before anything that takes long is loaded, with what is known so far, gone
before anything else is written; and not a byte of it where standard error is no terminal."""

from __future__ import annotations

import json
import os
import pty
import re
import subprocess
import sys
import threading

import pytest
from commands import ROOT, run, two_bodies
from test_certificate import BY_HAND, BY_HAND_MODEL, EXCEPTION, GOOD_PROOF, write

from solver.answer.certificate.claims import worded
from solver.answer.prove import prove
from solver.cli import line, streams
from solver.files.load import parse_design

AWAY = "\r\x1b[2K"
# What takes its time to load; pydantic is loaded already, by what reads the words of the command line.
HEAVY = (
    "pyarrow",
    "numpy",
    "ortools",
    "rich",
    "fpdf",
    "pandas",
    "solver.search",
    "solver.answer",
    "solver.sheets.gears",
)
DRIVER = """
import json, sys
from solver.cli import line
real = line._DrawnLine.tell
def tell(self, words):
    if not told:
        told.append([name for name in {heavy!r} if name in sys.modules])
        open("loaded.json", "w").write(json.dumps(told[0]))
    real(self, words)
told = []
line._DrawnLine.tell = tell
from solver.__main__ import main
main()
"""


def on_terminal(folder, *words: str) -> tuple[int, str, list[str]]:
    """The command with a terminal as its standard output and error: exit code, all that was written, and what had been
    loaded when the line was first drawn."""
    master, slave = pty.openpty()
    driver = DRIVER.format(heavy=HEAVY)
    process = subprocess.Popen(
        [sys.executable, "-c", driver, *words], cwd=folder, stdout=slave, stderr=slave,
        env={**os.environ, "PYTHONPATH": str(ROOT), "OPENBLAS_NUM_THREADS": "1"},
    )  # fmt: skip
    os.close(slave)
    data = b""
    while True:
        try:
            some = os.read(master, 1 << 16)
        except OSError:  # the other end is closed
            break
        if not some:
            break
        data += some
    os.close(master)
    return process.wait(), data.decode(), json.loads((folder / "loaded.json").read_text())


def lines_of(written: str) -> list[str]:
    """What the line said, one after the other, without its seconds."""
    told = [part.split("\n")[0] for part in written.split(AWAY)]
    return [re.sub(r"^[-|/\\] (\d+ s, )?", "", one) for one in told if re.match(r"[-|/\\] ", one)]


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    here = tmp_path_factory.mktemp("line")
    (here / "two.toml").write_text(two_bodies("Two", "In", "Out"))
    (here / "none.toml").write_text(two_bodies("None", "In", "Out") + "max_error_pct = 0.000001\n")
    train = "[train]\nrings = [24, 30]\n[[train.links]]\nwheel = 15\npinion = 9\n"
    (here / "train.toml").write_text("[rings]\ntooth_pitch = 12\n[fit]\n" + train)
    (here / "certificate").mkdir()
    claim = BY_HAND | {"exceptions": [EXCEPTION]}
    worded(claim, 1)
    write(here / "certificate", claim, BY_HAND_MODEL, GOOD_PROOF)
    assert run("solve", "two.toml", cwd=here)[0] == 0
    return here


COMMANDS = {
    "explain": (("explain", "none.toml"), 0, "whether anything fits as it stands"),
    "rank": (("rank", "two.toml"), 0, "reading two.toml, 1 of 1 run"),
    "prove": (("prove", "two.toml"), 0, "claim 1 of "),
    "model": (("model", "two.toml", "--out", "m.txt", "--force"), 0, "stating the rules"),
    "audit": (("audit", "train.toml", "--place"), 0, "looking for places, no rule broken so far"),
    "solve": (("solve", "two.toml", "--no-save"), 0, "searching"),
    "rerun": (("rerun", "RUN"), 0, "solving again"),
    "hold": (("hold", "two.toml", "--links", "0"), 0, "searching"),
    "design": (("design", "RUN"), 0, "reading"),
    "sheets": (("sheets", "two.toml", "--out", "pack", "--force"), 0, "making sheets.pdf, 1 files so far"),
    "teeth": (("teeth", "two.toml"), 0, "looking for saw teeth"),
    "setting": (("setting", "two.toml", "--date", "2026-12-24"), 2, "reading"),
    "check": (("check", "certificate"), 0, "0 of 1 choice of rings checked"),
}


@pytest.mark.deep
@pytest.mark.parametrize("name", COMMANDS)
def test_the_line_is_there_before_what_takes_long_and_says_what_is_done(name, folder):
    words, code, told = COMMANDS[name]
    (stored,) = (folder / "runs/results").iterdir()
    found, written, loaded = on_terminal(folder, *(word.replace("RUN", str(stored)) for word in words))
    assert found == code, written
    assert loaded == []
    assert any(one.startswith(told) for one in lines_of(written)), written
    # The last that is drawn is taken away, and what stays begins at the beginning of a line.
    assert lines_of(written.rpartition(AWAY)[2]) == []


@pytest.mark.deep
@pytest.mark.parametrize("name", ["explain", "rank", "prove", "model", "audit", "rerun", "check"])
def test_not_a_byte_of_it_where_standard_error_is_no_terminal(name, folder):
    (stored,) = (folder / "runs/results").iterdir()
    words, code, _ = COMMANDS[name]
    found, out, err = run(*(word.replace("RUN", str(stored)) for word in words), cwd=folder)
    assert found == code and "\r" not in out + err and "\x1b" not in out + err
    assert not re.search("reading|claim 1 of|stating the rules|looking for|choice", err)


@pytest.mark.deep
def test_points_of_a_sweep_that_are_solved_again_are_counted_on_the_line(tmp_path):
    (tmp_path / "some.toml").write_text(two_bodies("Two", "In", "Out") + "[vary]\nrings.inner_teeth = [24, 30]\n")
    assert run("sweep", "some.toml", "--workers", "1", cwd=tmp_path)[0] == 0
    code, written, _ = on_terminal(tmp_path, "rerun", "runs/results/some", "--all", "--workers", "1")
    assert code == 0 and "identical" in written, written
    told = list(dict.fromkeys(lines_of(written)))
    assert told == ["reading", *(f"{done} of 2 points solved again" for done in (0, 1, 2))]


class Terminal:
    """A standard error that is a terminal of so many columns."""

    encoding, errors = "utf-8", "strict"

    def __init__(self) -> None:
        self.written = ""

    def write(self, text: str) -> int:
        self.written += text
        return len(text)

    def flush(self) -> None:
        pass

    def isatty(self) -> bool:
        return True

    def fileno(self) -> int:
        raise OSError


def test_a_part_of_the_work_tells_on_the_line_that_is_there(monkeypatch):
    terminal = Terminal()
    monkeypatch.setattr(sys, "stderr", terminal)
    with line.words_line("reading") as outer:
        with line.words_line("searching") as inner:
            inner("best so far 1 %")
        outer("drawing")
        line.tell("x" * 200)
    threads = [one for one in threading.enumerate() if one.name == "line"]
    for one in threads:
        one.join(5)
    assert not any(one.is_alive() for one in threads)
    assert lines_of(terminal.written)[:4] == ["reading", "searching", "best so far 1 %", "drawing"]
    assert all(len(part) <= 79 for part in terminal.written.split(AWAY)) and terminal.written.endswith(AWAY)
    line.tell("nothing is shown after the end")
    assert terminal.written.endswith(AWAY)


def test_what_is_written_takes_the_place_of_the_line(monkeypatch):
    terminal = Terminal()
    monkeypatch.setattr(sys, "stderr", terminal)
    with line.words_line("reading") as tell:
        streams.make_room(terminal)
        terminal.write("a note\n")
        assert terminal.written.endswith(f"{AWAY}a note\n")
        tell("going on")
        assert lines_of(terminal.written)[-1] == "going on"


def test_a_title_moves_no_cursor_on_the_line(monkeypatch):
    terminal = Terminal()
    monkeypatch.setattr(sys, "stderr", terminal)
    with line.words_line("reading \x1b[2J\nevil"):
        pass
    assert "\x1b[2J" not in terminal.written and "\\u001b[2J\\nevil" in terminal.written


def test_each_claim_is_told_before_it_is_put():
    from solver import solve
    from solver.search.stop import NoStop

    design = parse_design(two_bodies("Two", "In", "Out"))
    order: list[str] = []
    proofs = prove(
        design, solve(design).solutions, None, NoStop(), lambda proof, _: order.append(proof.claim), order.append
    )
    count = len(proofs.proofs)
    assert order[::2] == [f"claim {n} of {count}: {one.claim}" for n, one in enumerate(proofs.proofs, 1)]
    assert order[1::2] == [one.claim for one in proofs.proofs]
