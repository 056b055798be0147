"""Certificates as a user at a shell meets them."""

from __future__ import annotations

import builtins
import json
import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import suppress
from copy import deepcopy
from functools import reduce
from pathlib import Path

import pytest
from certificates import DESIGNS, design_text
from commands import CONFIGS, ROOT
from commands import run as from_shell
from test_broken_files import run
from test_certificate import BY_HAND, BY_HAND_MODEL, EXCEPTION, GOOD_PROOF, write
from test_line import AWAY, lines_of, on_terminal

from solver.answer.certificate.claims import worded
from solver.answer.certificate.solving import Posted, TooLong
from solver.check.certificate.check import check_certificate
from solver.check.certificate.claim import DoesNotHold
from solver.cli.certificate import run_check

pytest.importorskip("pumpkin_solver")


@pytest.fixture
def written(tmp_path, monkeypatch, capsys) -> Path:
    """A certificate in a folder, and beside it its design."""
    (tmp_path / "hall.toml").write_text(DESIGNS["plain"], encoding="utf-8")
    folder = tmp_path / "certificate"
    code, out, err = run(monkeypatch, capsys, "prove", str(tmp_path / "hall.toml"), "--certificate", str(folder))
    assert (code, err) == (0, "")
    assert out.startswith("No train of these rings and gears has a worst error below 4.166666666 %.\n")
    assert "checked: it holds" in out
    return folder


def change(folder: Path, **fields: object) -> None:
    claim = json.loads((folder / "claim.json").read_text(encoding="utf-8"))
    (folder / "claim.json").write_text(json.dumps(claim | fields), encoding="utf-8")


def test_a_certificate_is_written_and_checked(written, monkeypatch, capsys):
    code, out, err = run(monkeypatch, capsys, "check", str(written))
    assert (code, err) == (0, "")
    assert [line[:7] for line in out.splitlines()[-3:]] == ["1 holds", "2 holds", "3 holds"]
    assert "no train has a worst error below E = 4.166666666 %" in out
    assert sorted(path.name for path in written.iterdir()) == [
        "README.txt",
        "claim.json",
        "model.json.gz",
        "proof.json.gz",
    ]
    assert "below 4.166666666 %" in (written / "README.txt").read_text(encoding="utf-8")


@pytest.mark.slow
def test_how_far_it_is_stands_on_the_line_of_progress(tmp_path):
    (tmp_path / "hall.toml").write_text(DESIGNS["families"], encoding="utf-8")
    code, out, loaded = on_terminal(tmp_path, "prove", "hall.toml", "--certificate", "to")
    assert (code, loaded) == (0, []) and "\\u001b" not in out
    told = lines_of(out)
    assert {"1 of 4 choices of rings written", "1 of 4 choices of rings checked"} <= set(told), told
    # The last that is drawn is taken away, and what stays begins at the beginning of a line.
    assert "\nchecked: it holds" in out.rpartition(AWAY)[2].replace("\r\n", "\n")


def test_the_same_design_gives_the_same_bytes(written, tmp_path, monkeypatch, capsys):
    again = tmp_path / "again"
    run(monkeypatch, capsys, "prove", str(tmp_path / "hall.toml"), "--certificate", str(again))
    assert all((again / path.name).read_bytes() == path.read_bytes() for path in written.iterdir())


def test_a_certificate_is_of_its_design(written, tmp_path, monkeypatch, capsys):
    (tmp_path / "other.toml").write_text(DESIGNS["plain"].replace("5.3", "5.31"), encoding="utf-8")
    code, out, _ = run(monkeypatch, capsys, "check", str(written), "--design", str(tmp_path / "hall.toml"))
    assert code == 0 and out.endswith(f"and the claim is of the design {tmp_path / 'hall.toml'}\n")
    code, out, err = run(monkeypatch, capsys, "check", str(written), "--design", str(tmp_path / "other.toml"))
    assert (code, out) == (1, "") and err == (
        f"does not hold: claim.json: design_sha256 is not that of {tmp_path / 'other.toml'}\n"
    )


def test_what_does_not_hold_and_what_cannot_be_read(written, monkeypatch, capsys):
    change(written, claim="No train is better than 1 %.")
    code, _, err = run(monkeypatch, capsys, "check", str(written))
    assert (code, err) == (1, "does not hold: claim.json: its words are not those of its numbers\n")
    change(written, square="2")
    code, _, err = run(monkeypatch, capsys, "check", str(written))
    assert (code, err) == (1, "does not hold: claim.json: the best train is better than the claim says\n")
    (written / "claim.json").write_text("{", encoding="utf-8")
    code, _, err = run(monkeypatch, capsys, "check", str(written))
    assert code == 2 and err.startswith("cannot be read: claim.json: JSONDecodeError")


def test_a_claim_whose_words_cannot_be_made_cannot_be_read(tmp_path, monkeypatch, capsys):
    """The numbers hold: the checker asks for no names, the words do."""
    claim = BY_HAND | {"exceptions": [EXCEPTION], "held_seats": [[0], [1]]}
    worded(claim, 1)
    write(tmp_path, claim, BY_HAND_MODEL, GOOD_PROOF)
    assert run(monkeypatch, capsys, "check", str(tmp_path))[0] == 0
    change(tmp_path, bodies=[{key: body[key] for key in body if key != "name"} for body in claim["bodies"]])
    assert check_certificate(tmp_path).cases == 1
    code, out, err = run(monkeypatch, capsys, "check", str(tmp_path))
    told = "cannot be read: claim.json: its words cannot be made of its numbers: KeyError: 'name'\n"
    assert (code, out, err) == (2, "", told)


HOSTILE = (
    None,
    "",
    "x" * 500,
    "1e9",
    "-1",
    "\x1b[2J\n",
    -1,
    0,
    10**30,
    0.5,
    True,
    [],
    [[]],
    {},
    {"a": 1},
    [None],
    ["0"],
)


@pytest.mark.slow
def test_whatever_a_claim_says_it_holds_or_does_not_or_cannot_be_read(tmp_path):
    """Each field of a claim in turn, at any depth, is left out or says something else; with the words that it has then,
    where it has any."""
    claim = BY_HAND | {"exceptions": [EXCEPTION], "held_seats": [[0], [1]], "held_rings": [[0, 24]]}
    codes = set()
    for path in fields_of(claim):
        for value in (..., *HOSTILE):
            changed = deepcopy(claim)
            inner = reduce(lambda one, key: one[key], path[:-1], changed)
            if value is ...:
                del inner[path[-1]]
            else:
                inner[path[-1]] = value
            with suppress(Exception):
                worded(changed, 1)
            write(tmp_path, changed, BY_HAND_MODEL, GOOD_PROOF)
            codes.add(run_check(tmp_path, None))
    assert codes == {0, 1, 2}


def fields_of(value: object, *path: object) -> Iterator[tuple[object, ...]]:
    """The ways to all that is within plain data."""
    pairs = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, inner in pairs:
        yield (*path, key)
        yield from fields_of(inner, *path, key)


def test_what_is_there_is_not_written_over(written, tmp_path, monkeypatch, capsys):
    code, _, err = run(monkeypatch, capsys, "prove", str(tmp_path / "hall.toml"), "--certificate", str(written))
    assert (code, err) == (2, f"--certificate {written}: is there already; name a new folder\n")


def test_an_empty_folder_is_taken_and_what_cannot_be_one_is_refused(tmp_path, monkeypatch, capsys):
    file, empty = tmp_path / "hall.toml", tmp_path / "empty"
    file.write_text(DESIGNS["plain"], encoding="utf-8")
    for place, told in ((file, "is no folder"), (file / "in" / "it", f"{file} is no folder")):
        code, _, err = run(monkeypatch, capsys, "prove", str(file), "--certificate", str(place))
        assert (code, err) == (2, f"--certificate {place}: {told}\n")
    code, _, err = run(monkeypatch, capsys, "prove", str(file), "--certificate", "/proc/to")
    assert (code, err) == (2, "--certificate /proc/to: cannot be written: /proc: No such file or directory\n")
    empty.mkdir()
    assert run(monkeypatch, capsys, "prove", str(file), "--certificate", str(empty))[0] == 0
    assert len(list(empty.iterdir())) == 4 and sorted(path.name for path in tmp_path.iterdir()) == [
        "empty",
        "hall.toml",
    ]


def test_what_took_too_long_leaves_nothing_and_can_be_tried_again(tmp_path, monkeypatch, capsys):
    """By the second choice of rings, when the first one has been written."""
    (tmp_path / "hall.toml").write_text(DESIGNS["families"], encoding="utf-8")
    words = ("prove", str(tmp_path / "hall.toml"), "--certificate", str(tmp_path / "deep" / "to"))
    solve, calls = Posted.solve, []

    def slow(self, seconds):
        calls.append(seconds)
        if len(calls) == 2:
            raise TooLong("no certificate: not settled within 60 s")
        return solve(self, seconds)

    with monkeypatch.context() as slowed:
        slowed.setattr(Posted, "solve", slow)
        assert run(monkeypatch, capsys, *words) == (4, "", "--certificate: no certificate: not settled within 60 s\n")
    assert [path.name for path in tmp_path.iterdir()] == ["hall.toml"]
    assert run(monkeypatch, capsys, *words)[0] == 0


def test_a_certificate_that_the_checker_refuses_is_not_kept(tmp_path, monkeypatch, capsys):
    (tmp_path / "hall.toml").write_text(DESIGNS["plain"], encoding="utf-8")

    def refuse(folder, tell):
        raise DoesNotHold(f"{len(list(folder.iterdir()))} files, and one is wrong")

    monkeypatch.setattr("solver.cli.certificate.check_certificate", refuse)
    code, out, err = run(
        monkeypatch, capsys, "prove", str(tmp_path / "hall.toml"), "--certificate", str(tmp_path / "to")
    )
    assert (code, out) == (1, "") and "4 files, and one is wrong" in err
    assert [path.name for path in tmp_path.iterdir()] == ["hall.toml"]


@pytest.mark.deep
def test_a_signal_leaves_no_folder_of_that_name(tmp_path):
    """What was begun lies beside it until the next one is written."""
    (tmp_path / "hall.toml").write_text(DESIGNS["families"], encoding="utf-8")
    words = ("prove", "hall.toml", "--certificate", "to")
    driver = (
        "import os, signal, time\n"
        "from solver.answer.certificate import writing\n"
        "def stop(*_):\n    os.kill(os.getpid(), signal.SIGTERM)\n    time.sleep(60)\n"
        "writing._Writer._except = stop\n"
        "from solver.__main__ import main\nmain()\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", driver, *words], cwd=tmp_path, env={**os.environ, "PYTHONPATH": str(ROOT)},
        capture_output=True, text=True, timeout=60,
    )  # fmt: skip
    assert (done.returncode, done.stderr) == (143, "interrupted: no certificate was written\n")
    assert not (tmp_path / "to").exists() and len(list(tmp_path.iterdir())) == 2
    assert from_shell(*words, cwd=tmp_path)[0] == 0
    assert sorted(path.name for path in tmp_path.iterdir()) == ["hall.toml", "to"]


def test_without_the_proving_solver_it_is_said_what_to_install(tmp_path, monkeypatch, capsys):
    real = builtins.__import__

    def refuse(name, *rest, **more):
        if name.startswith("pumpkin_solver"):
            raise ImportError(name)
        return real(name, *rest, **more)

    monkeypatch.setattr(builtins, "__import__", refuse)
    (tmp_path / "hall.toml").write_text(DESIGNS["plain"], encoding="utf-8")
    code, _, err = run(monkeypatch, capsys, "prove", str(tmp_path / "hall.toml"), "--certificate", str(tmp_path / "to"))
    told = "a certificate needs the solver that writes proofs: pip install 'ringwright[certificate]'"
    assert (code, err) == (2, f"--certificate: {told}\n") and not (tmp_path / "to").exists()


def test_where_nothing_fits_it_is_proven_that_nothing_does(tmp_path, monkeypatch, capsys):
    (tmp_path / "none.toml").write_text(DESIGNS["none"], encoding="utf-8")
    code, out, _ = run(monkeypatch, capsys, "prove", str(tmp_path / "none.toml"), "--certificate", str(tmp_path / "to"))
    assert code == 0 and out.startswith("No train of these rings and gears keeps every body within 5.000000000 %")


def test_where_teeth_alone_do_not_decide_it_is_said(tmp_path, monkeypatch, capsys):
    """A limit on jigs leaves out the best train by teeth, which the certificate does not know of."""
    text = design_text(["1", "2.4", "5.3"]).replace("max_error_pct = 50", "max_error_pct = 50\nmax_jigs = 5")
    (tmp_path / "jigs.toml").write_text(text, encoding="utf-8")
    code, out, _ = run(monkeypatch, capsys, "prove", str(tmp_path / "jigs.toml"), "--certificate", str(tmp_path / "to"))
    assert code == 0 and "listed: by their teeth they are better" in out
    code, out, _ = run(monkeypatch, capsys, "check", str(tmp_path / "to"))
    assert code == 0 and "is no part of this certificate" in out and "that the claim lists" in out


def test_ranges_of_periods_are_covered(tmp_path, monkeypatch, capsys):
    text = DESIGNS["best"].replace('period = "2.4"', 'period_range = ["2.3", "2.5"]')
    (tmp_path / "range.toml").write_text(text, encoding="utf-8")
    code, out, _ = run(
        monkeypatch, capsys, "prove", str(tmp_path / "range.toml"), "--certificate", str(tmp_path / "to")
    )
    assert code == 0 and "has a worst error below" in out


FEW = ("jupiter-table", "saturn-few-jigs", "saturn-hall", "saturn-stair-well", "solar-system")


@pytest.mark.deep
@pytest.mark.parametrize("name", [*FEW, "saturn-any-rings"])
def test_designs_that_ship_have_certificates(name, tmp_path, monkeypatch, capsys):
    """The range of 11,172 structures without third gears, which take minutes."""
    text = (CONFIGS / f"{name}.toml").read_text(encoding="utf-8")
    text = text.replace("third_gears = 2", "third_gears = 0") if name == "saturn-any-rings" else text
    (tmp_path / "design.toml").write_text(text, encoding="utf-8")
    words = ("prove", str(tmp_path / "design.toml"), "--certificate", str(tmp_path / "to"))
    assert run(monkeypatch, capsys, *words)[0] == 0
    code, out, _ = run(monkeypatch, capsys, "check", str(tmp_path / "to"), "--design", str(tmp_path / "design.toml"))
    assert code == 0 and "the best train has exactly the error E" in out
