"""What others wrote reaches no terminal raw: titles, names of bodies and files, values; on one line, nothing hidden."""

from __future__ import annotations

import csv
import io
import json
import re
import sys
import unicodedata
from pathlib import Path

import pytest
from commands import forked, quoted, two_bodies

from solver import load_design, parse_design
from solver.cli.screen import Screen
from solver.cli.tables import Paper, plain_table
from solver.design.errors import DesignError
from solver.files.train_file import parse_train
from solver.service.page.rendering import templates
from solver.words.shown import escaped, seen, shown, shown_lines

# Clears the screen, hides what follows (in seven bits and in eight), writes backwards, breaks the line, is not there.
HOSTILE = "A\x1b[2J\x1b[8m\x9b8mB\u202eC\nFAKE proven best: 0\rD\u2028E\u200bF\x07\U000e0041G"
DESIGN = two_bodies(HOSTILE, "Moon" + HOSTILE, "Other")
TRAIN = f"""
title = {quoted(HOSTILE)}
[[train.meshes]]
driver = {quoted("a" + HOSTILE)}
driven = "b"
teeth = [24, 30]
"""
HIDDEN = ("Cc", "Cf", "Cs", "Zl", "Zp")


def is_shown(text: str) -> bool:
    return all(char == "\n" or unicodedata.category(char) not in HIDDEN for char in text)


def test_every_control_and_format_character_is_written_out():
    """By the tables of Unicode that this Python has; and what is not seen although it is a letter or a mark."""
    for point in range(sys.maxunicode + 1):
        char = chr(point)
        if unicodedata.category(char) in HIDDEN or char in "\u3164\u115f\ufe0f\u034f":
            assert shown(char) == escaped(char) != char, hex(point)
    for text in ("Ångström", "木星", "Ῥέα", "Io’s – 5 °", "a\u0301", "𝄞", "é\u00a0!"):
        assert shown(text) == text


def test_lines_of_ours_stay_lines():
    assert shown_lines("a\nb\tc") == "a\nb\\tc" and shown("a\nb") == "a\\nb"


@pytest.fixture(scope="module")
def folder(tmp_path_factory) -> Path:
    """A design, a train and a sweep that mean no good, and a run of each that can be solved."""
    folder = tmp_path_factory.mktemp(f"d\n\x1b[31m\u202e{'x'}")
    (folder / "design.toml").write_text(DESIGN, encoding="utf-8")
    (folder / "train.toml").write_text(TRAIN, encoding="utf-8")
    varied = DESIGN + "[vary]\nbodies.reference = ['first', 'best']\n"
    (folder / "sweep.toml").write_text(varied, encoding="utf-8")
    code, _, err = forked("solve", "design.toml", cwd=folder)
    assert code == 0, err
    code, _, err = forked("sweep", "sweep.toml", "--workers", "1", cwd=folder)
    assert code == 0, err
    return folder


@pytest.mark.slow
def test_the_design_means_what_this_test_thinks(folder):
    design = load_design(folder / "design.toml")
    assert (design.title, design.bodies[0].name) == (HOSTILE, "Moon" + HOSTILE)


@pytest.mark.deep
@pytest.mark.parametrize(
    "words",
    [
        ("solve", "design.toml"), ("solve", "design.toml", "--json"), ("explain", "design.toml"),
        ("audit", "train.toml"), ("audit", "train.toml", "--json"), ("sweep", "sweep.toml"),
        ("sweep", "sweep.toml", "--status"), ("sweep", "sweep.toml", "--dry-run"), ("rank", "RUN"),
        ("rank", "RUN", "--json"), ("rank", "RUN", "--csv"), ("rank", "runs/results/sweep"), ("rerun", "RUN"),
        ("solve", "no\x1b[2J\nFAKE.toml"), ("solve", "--\x1b[2J\nFAKE"), ("\x1b[2J\u202e",), ("rank", "no\nFAKE\x9b8m"),
        ("sweep", "sweep.toml", "--name", "a\x1b[2J"), ("bodies", "sat\nFAKE\u202e"),
    ],
    ids=repr,
)  # fmt: skip
def test_no_command_hands_it_on(folder, words):
    run = next(str(path) for path in (folder / "runs" / "results").iterdir() if path.name != "sweep")
    code, out, err = forked(*(run if word == "RUN" else word for word in words), cwd=folder)
    assert code in (0, 2), err
    told = out.decode() + err.decode()
    assert told and is_shown(told)
    if "--csv" in words:  # a cell may have lines, in quotes
        assert {row["title"] for row in csv.DictReader(io.StringIO(out.decode()))} == {
            shown(HOSTILE).replace("\\n", "\n")
        }
    else:
        assert not any(line.startswith("FAKE") for line in told.splitlines()), told
    if "--json" in words and words[0] != "explain":
        assert json.loads(out)["title" if words[0] != "rank" else "solutions"]
    if words[:2] in (("solve", "design.toml"), ("audit", "train.toml")) and len(words) == 2:
        assert out.decode().startswith(shown(HOSTILE) + "\n")


@pytest.mark.slow
def test_documents_say_exactly_what_was_written(folder):
    _, out, _ = forked("solve", "design.toml", "--json", cwd=folder)
    document = json.loads(out)
    assert document["title"] == HOSTILE and document["solutions"][0]["rings"][0]["name"] == "Moon" + HOSTILE


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def test_on_a_terminal_only_our_own_sequences_are_written():
    stream = Terminal()
    paper = Paper(stream)
    paper.heading(HOSTILE)
    paper.line(HOSTILE)
    paper.print(HOSTILE)
    table = plain_table(HOSTILE, (HOSTILE, "b"), left=(HOSTILE,), caption=HOSTILE)
    table.add_row(HOSTILE, "[bold]1[/bold]")
    paper.print(table)
    with Screen(stream).status("searching") as line:
        line.update(HOSTILE)
    told = stream.getvalue()
    assert told.count("\\u001b[8m") >= 5 and "\x1b[8m" not in told and "\x1b[2J" not in told
    left = re.sub(r"\x1b\[[0-9;?]*[a-zA-Z]|\r", "", told)
    assert is_shown(left), left
    assert "[bold]1[/bold]" in left


def test_columns_are_as_wide_as_what_is_shown():
    """A character that is written out takes the room of what stands for it."""
    stream = io.StringIO()
    table = plain_table("", ("body", "teeth"), left=("body",))
    table.add_row("a\u202eb", "24")
    table.add_row("long enough for both", "30")
    Paper(stream).print(table)
    first, second = stream.getvalue().rstrip().splitlines()[-2:]
    assert first.rstrip().endswith("24") and len(first.rstrip()) == len(second.rstrip())


def test_pages_show_it_too():
    page = templates().from_string("<h1>{{ title }}</h1>{{ plain|e }}").render(title=HOSTILE, plain="a\u200db")
    assert page.startswith(f"<h1>{shown_lines(HOSTILE)}</h1>") and page.endswith("a\u200db")


# -- names that look the same ------------------------------------------------------------------------------------------


def design(*names: str, body_set: str = "") -> str:
    bodies = "".join(
        f"[[bodies.list]]\nname = {json.dumps(name)}\nperiod = {100 * 2**index}\n" for index, name in enumerate(names)
    )
    return f"[bodies]\n{body_set}\n{bodies}"


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("Io", "Io "), ("Io", "\u00a0Io"), ("Io 2", "Io  2"), ("Io 2", "Io\t2"), ("Io 2", "Io\u30002"),
        ("Io", "I\u200bo"), ("Io", "Io\u202c"), ("Io", "Io\ufe0f"), ("Io", "I\u00ado"), ("Io", "Io\u3164"),
        ("R\u00e9a", "Re\u0301a"), ("Io", "\uff29\uff4f"), ("Io", "io"), ("Straße", "STRASSE"), ("Io 2", "Io\u28002"),
        ("Io 2", "Io\n2"),
    ],
)  # fmt: skip
def test_bodies_that_look_the_same_are_refused(one, other):
    for pair in ((one, other), (other, one)):
        with pytest.raises(DesignError) as fault:
            parse_design(design(*pair))
        told = str(fault.value)
        assert "bodies.list[1].name" in told and "cannot be told from" in told and is_shown(told)
        assert "\n" not in told


def test_a_body_that_looks_like_one_of_the_set_is_refused():
    with pytest.raises(DesignError, match=r'bodies\.list\[0\]\.name = "Titan\\u200b": cannot be told from "Titan"'):
        parse_design(design("Titan\u200b", body_set='set = "saturn"'))


@pytest.mark.parametrize("name", [" ", "\u200b", "\u3164", "\u2800 "])
def test_a_body_whose_name_is_not_seen_is_refused(name):
    with pytest.raises(DesignError, match="has no letter that is seen"):
        parse_design(design("Io", name))


@pytest.mark.parametrize("name", ["blank 1", "Blank  2"])
def test_a_body_that_is_called_as_a_blank_ring_is_refused(name):
    with pytest.raises(DesignError, match="is what rings without a body are called"):
        parse_design(design("Io", name))


def test_bodies_that_differ_are_taken():
    names = ("Io", "Io 2", "Ío", "blank", "Io-2")
    assert [body.name for body in parse_design(design(*names)).bodies] == list(names)
    assert len({seen(name) for name in names}) == len(names)


def test_rings_and_arbors_of_a_train_likewise():
    rings = '[train]\nrings = [24, 30]\nbodies = ["Io", "Io\\u200b"]\n[[train.links]]\nwheel = 13\npinion = 7\n'
    with pytest.raises(DesignError, match="rides on another ring already"):
        parse_train(rings)
    meshes = '[[train.meshes]]\ndriver = "a"\ndriven = "a\\u2060"\nteeth = [24, 30]\n'
    with pytest.raises(DesignError, match=r'train\.meshes\[0\]\.driven = "a\\u2060": cannot be told from "a"'):
        parse_train(meshes)
