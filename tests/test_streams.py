"""Terminals and pipes that do not have every character, or take nothing at all: what can be written is."""

from __future__ import annotations

import json
import os
import tomllib
from pathlib import Path

import pytest
from commands import CONFIGS, ROOT, forked, start, two_bodies
from sweeping import SMALL, write

from solver.cli.streams import _ERRORS
from solver.words.shown import escaped

pytestmark = pytest.mark.slow

TITLE = "Żółw's Ørrery, 木星 🪐"
DESIGN = two_bodies(TITLE, "Ío", "木星🪐")
FULL = Path("/dev/full")
ENCODINGS = {"latin-1": "strict", "ascii": "surrogateescape", "cp437": "strict"}  # with what Python does about faults


@pytest.fixture(scope="module")
def designs(tmp_path_factory) -> Path:
    """A folder with a design, a sweep, and a run of each."""
    folder = tmp_path_factory.mktemp("designs")
    (folder / "design.toml").write_text(DESIGN, encoding="utf-8")
    write(folder, SMALL.replace("{min = 18, max = 32}", "[18, 19]"))
    code, _, err = forked("solve", "design.toml", cwd=folder)
    assert code == 0, err
    code, _, err = forked("sweep", "moons.toml", "--workers", "1", cwd=folder)
    assert code == 0, err
    return folder


def run_of(folder: Path) -> str:
    return next(str(path) for path in (folder / "runs" / "results").iterdir() if path.name != "moons")


@pytest.mark.parametrize(("encoding", "errors"), ENCODINGS.items())
def test_what_an_encoding_does_not_have_is_written_out(designs, encoding, errors):
    code, out, err = forked("solve", "design.toml", "--no-save", cwd=designs, encoding=encoding, errors=errors)
    assert (code, err) == (0, b"")
    lines = out.decode(encoding).splitlines()
    assert lines[0] == TITLE.encode(encoding, _ERRORS).decode(encoding)
    assert any("\\u6728\\u661f\\ud83e\\ude90" in line for line in lines)
    heads = [index for index, line in enumerate(lines) if line.startswith((" ring  body", " ring  link"))]
    assert len(heads) == 2
    for head in heads:  # columns stay in line
        at = lines[head].index("link")
        assert lines[head + 2][at - 1] == " " and lines[head + 2][at].isdigit()
    assert ("at deg" in lines[heads[1]]) == (encoding == "ascii") and "proven best" in lines[-1]


@pytest.mark.parametrize(("encoding", "errors"), ENCODINGS.items())
@pytest.mark.parametrize(
    "words",
    [
        ("solve", "design.toml", "--no-save"),
        *(pytest.param(one, marks=pytest.mark.deep) for one in (("rank", "RUN"), ("explain", "design.toml"))),
    ],
)
def test_json_stays_the_same_document(designs, encoding, errors, words):
    words = [run_of(designs) if word == "RUN" else word for word in words]
    code, out, err = forked(*words, "--json", cwd=designs, encoding=encoding, errors=errors)
    assert (code, err) == (0, b"")
    _, usual, _ = forked(*words, "--json", cwd=designs)
    found, meant = json.loads(out.decode(encoding)), json.loads(usual)
    for document in (found, meant):
        document.pop("report", None)
    assert found == meant
    assert words[0] == "explain" or TITLE in json.dumps(found, ensure_ascii=False)


@pytest.mark.deep
def test_a_command_in_a_terminal_that_is_not_utf_8(designs):
    """As a user has it: Python chooses the encoding."""
    for told in ({"PYTHONIOENCODING": "latin-1"}, {"LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"}):
        process = start(
            "solve", "design.toml", cwd=designs, text=False, env={**os.environ, "PYTHONPATH": str(ROOT), **told}
        )
        out, err = process.communicate(timeout=300)
        assert process.returncode == 0 and b"proven best" in out and err.startswith(b"stored as ")


@pytest.mark.parametrize("encoding", ["utf-8", *ENCODINGS])
def test_a_new_design_is_valid_in_every_encoding(encoding, tmp_path):
    title = 'Ørrery ~ – 🪐 "\\\n\x1b\u202e\U000e0041'
    code, out, err = forked("new", "--title", title, cwd=tmp_path, encoding=encoding)
    assert (code, err) == (0, b"")
    assert tomllib.loads(out.decode(encoding))["title"] == title
    assert not set("\x1b\u202e\U000e0041") & set(out.decode(encoding))
    assert forked("new", "new.toml", "--title", title, cwd=tmp_path, encoding=encoding)[0] == 0
    assert tomllib.loads((tmp_path / "new.toml").read_text(encoding="utf-8"))["title"] == title


def test_who_asks_for_something_else_gets_it(designs):
    """PYTHONIOENCODING with a handler of errors."""
    code, out, _ = forked("solve", "design.toml", "--no-save", cwd=designs, encoding="ascii", errors="replace")
    assert code == 0 and TITLE.encode("ascii", "replace") in out


def test_signs_are_written_out_as_json_does():
    for sign in ("é", "木", "🪐", "\x1b", "\u202e", "\ud800", "\U000e0001"):
        assert json.loads(f'"{escaped(sign)}"') == sign and escaped(sign).isascii()


def test_names_of_files_that_are_no_text_are_told(tmp_path):
    """Bytes of a name that are not UTF-8 stand in Python's text as lone surrogates."""
    name = b"d\xe9sign\xff.toml"
    (tmp_path / os.fsdecode(name)).write_bytes(DESIGN.encode())
    code, _, err = forked("solve", os.fsdecode(name), "--results", os.fsdecode(b"runs\xff"), cwd=tmp_path)
    assert code == 0 and err.startswith(rb"stored as runs\udcff/")
    code, _, err = forked("solve", os.fsdecode(b"no\xff.toml"), cwd=tmp_path)
    assert (code, err) == (2, b"no\\udcff.toml: No such file or directory\n")


FIRST = [("--version",), ("solve", "design.toml"), ("rank", "RUN"), ("sweep", "moons.toml", "--status")]
MORE = [
    ("--help",), ("bodies",), ("new",), ("schema",), ("solve", "design.toml", "--json"), ("explain", "design.toml"),
    ("audit", str(CONFIGS / "audit-huygens.toml")), ("rank", "RUN", "--csv"), ("rerun", "RUN"), ("sweep", "moons.toml"),
    ("sweep", "moons.toml", "--dry-run"),
]  # fmt: skip
EVERY = [*FIRST, *(pytest.param(one, marks=pytest.mark.deep) for one in MORE)]


@pytest.mark.skipif(not FULL.exists(), reason="needs a device that is always full")
@pytest.mark.parametrize("words", EVERY, ids=" ".join)
def test_an_output_that_takes_nothing_is_one_line(designs, words):
    words = [run_of(designs) if word == "RUN" else word for word in words]
    for redirect, why in (({"closed": (1,)}, b"closed"), ({"full": (1,)}, b"No space left on device")):
        code, out, err = forked(*words, cwd=designs, **redirect)
        assert (code, out) == (2, b""), err
        [line] = err.splitlines()
        assert line.startswith(b"standard output: " + why)
        if words[0] == "solve":
            assert (designs / line.decode().rpartition("the run is stored as ")[2] / "run.json").is_file()
        if words == ["sweep", "moons.toml"]:
            assert line.endswith(b"; the run is stored in runs/results/moons")


@pytest.mark.skipif(not FULL.exists(), reason="needs a device that is always full")
@pytest.mark.parametrize(
    "words",
    [
        ("solve", "design.toml"),
        *(pytest.param(one, marks=pytest.mark.deep) for one in (("sweep", "moons.toml"), ("rerun", "RUN"))),
    ],
    ids=" ".join,
)
def test_messages_that_nobody_takes_change_nothing(designs, words):
    """Nor do they go to standard output in their place."""
    words = [run_of(designs) if word == "RUN" else word for word in words]
    code, out, _ = forked(*words, cwd=designs)
    assert code == 0
    for redirect in ({"closed": (2,)}, {"closed": (0, 2)}, {"full": (2,)}):
        assert forked(*words, cwd=designs, **redirect) == (0, out, b"")
    assert forked("solve", "none.toml", cwd=designs, closed=(2,)) == (2, b"", b"")


def test_a_file_is_not_mistaken_for_an_output_that_is_closed(designs, tmp_path):
    """The next file that is opened gets the number that is free: what is printed must not end up in it."""
    (tmp_path / "design.toml").write_text(DESIGN, encoding="utf-8")
    for number, closed in enumerate(((0, 1, 2), (1, 2), (0,))):
        picture = f"design-{number}.svg"
        code, _, _ = forked("solve", "design.toml", "--picture", picture, cwd=tmp_path, closed=closed)
        assert code == (2 if 1 in closed else 0)
        svg = (tmp_path / picture).read_text(encoding="utf-8")
        assert svg.startswith("<?xml") and svg.endswith("</svg>\n")


@pytest.mark.deep
@pytest.mark.skipif(not FULL.exists(), reason="needs a device that is always full")
def test_the_sheets_need_no_output(designs, tmp_path):
    for number, redirect in enumerate(({"closed": (1, 2)}, {"full": (1, 2)})):
        out = tmp_path / str(number)
        code, _, _ = forked("sheets", "design.toml", "--out", str(out), cwd=designs, **redirect)
        assert code == 0 and (out / "index.html").is_file()
