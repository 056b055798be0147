"""CSV that spreadsheets open: no text in it is a formula to them, numbers are numbers, and many rows cost no memory."""

from __future__ import annotations

import csv
import io
import re
import sys
import tracemalloc
from pathlib import Path

import httpx
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as pq
import pytest
from commands import run
from serving import ended, in_thread, submitted
from sweeping import SMALL, call, write

from solver.batch import ranking
from solver.batch.store import parts
from solver.batch.sweep.run import read_manifest, write_manifest
from solver.cli.rank import RankChoice, run_rank
from solver.service.limits import ServiceLimits
from solver.words.spreadsheet import as_text, csv_lines

# What a spreadsheet takes for a formula at the beginning of a cell: = + - @, tab, carriage return and line feed (the
# OWASP page "CSV Injection", from memory); a plain number is none. Where lines are split at semicolons, tabs or line
# breaks, a cell begins behind each of them.
HOSTILE = [
    "=1+1", "+A1", "-A1", "@SUM(1)", "\t=1", "\rx", "\nx", "  =1", "\u200b=1", "＝1", "＋A1", "－A1", "＠A1",
    "x;=1", "x\t-A1", "x\r\n@A1", "a;b;=1", "-5 mm", "+", "=", "-1;=1",
]  # fmt: skip
HARMLESS = ["", "Titan", "24 30 36", "16/10 18/12w5", "a = 1, b = -2", "x - y", "5-3", "a@b", "1;2", "2 rev/min", "'"]
NUMBERS = ["-1", "+0.2208", "-173.205", "1e-05", "-2.5E+3", "0"]
_BEGINS = re.compile(r"(?:^|[;\t\r\n])[\s\u200b]*[=+\-@＝＋－＠]|^[\t\r\n]")


def runs(cell: str) -> bool:
    """Whether a spreadsheet would take a cell, or what follows a separator in it, for a formula."""
    return bool(_BEGINS.search(cell)) and not re.fullmatch(r"[+-]?\d+(\.\d+)?([eE][+-]?\d+)?", cell)


def read(text: str) -> list[list[str]]:
    return list(csv.reader(io.StringIO(text, newline="")))


def test_text_that_could_run_is_marked_and_nothing_else():
    assert all(map(runs, HOSTILE)) and not any(map(runs, [*HARMLESS, *NUMBERS]))
    for cell in HOSTILE:
        marked = as_text(cell)
        assert not runs(marked) and marked.replace("'", "") == cell
    for cell in (*HARMLESS, *NUMBERS, -3, -2.5, None, 7):
        assert as_text(cell) == cell and type(as_text(cell)) is type(cell)


def test_what_is_written_reads_back():
    rows = [["a", "b"], [-1.5, 'say "so", or'], ["=1", "two\nlines"]]
    assert read("".join(csv_lines(rows))) == [["a", "b"], ["-1.5", 'say "so", or'], ["'=1", "two\nlines"]]


EVIL = """
title = '=HYPERLINK("http://orrery.example","Saturn");-1'
[bodies]
set = "saturn"
only = ["Mimas", "Tethys"]
[[bodies.list]]
name = "=Pan"
period = "0.575"
[[bodies.list]]
name = "@Rhea;+A1"
period = "4.6"
[rings]
addendum = 5
[fit]
frame = {shape = "square", side = 640}
[search]
keep = 2
"""


@pytest.fixture(scope="module")
def hall(tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("evil")
    (folder / "hall.toml").write_text(EVIL)
    code, _, err = run("solve", "hall.toml", cwd=folder)
    assert code == 0, err
    return folder


@pytest.mark.deep
def test_no_csv_of_a_hostile_design_runs(hall):
    (stored,) = (hall / "runs/results").iterdir()
    code, out, err = run("rank", str(stored), "--csv", cwd=hall)
    assert code == 0, err
    code, _, err = run("sheets", str(stored), "--out", "pack", cwd=hall)
    assert code == 0, err
    files = {path.name: path.read_text() for path in (hall / "pack").glob("*.csv")}
    assert sorted(files) == ["cuts.csv", "drilling.csv", "parts.csv", "shopping.csv"]
    for name, text in {"rank": out, **files}.items():
        cells = [cell for row in read(text) for cell in row]
        assert len(cells) > 20 and not list(filter(runs, cells)), name
    assert "'=HYPERLINK" in out and any("=Pan" in text for text in files.values())
    (titled, _) = csv.DictReader(io.StringIO(out))
    assert float(titled["worst_error_pct"]) > 0 and titled["title"].endswith("\");'-1")


@pytest.mark.slow
def test_nor_does_that_of_the_service(tmp_path):
    with (
        in_thread(tmp_path / "data", ServiceLimits()) as (port, _),
        httpx.Client(trust_env=False, timeout=60) as client,
    ):
        client.base_url = f"http://127.0.0.1:{port}"
        job = submitted(client, EVIL + '[vary]\ntitle = ["=1", "-A1"]\n')
        ended(client, job)
        answer = client.get(f"/api/jobs/{job}/solutions", params={"form": "csv"})
    rows = list(csv.DictReader(io.StringIO(answer.text)))
    assert answer.headers["content-type"].startswith("text/csv")
    assert {row["title"] for row in rows} == {"'=1", "'-A1"}


# -- many rows --------------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def many(tmp_path_factory) -> Path:
    """A run of some 4,500 solutions in two row groups: those of a sweep, many times with other errors."""
    home = tmp_path_factory.mktemp("many")
    write(home, SMALL)
    assert call("sweep", "moons.toml", cwd=home)[0] == 0
    folder = home / "runs/results/moons"
    table = pq.read_table(folder / "solutions.parquet")
    copies = -(-4_500 // len(table))
    at = table.schema.get_field_index("worst_error_pct")
    tables = [
        table.set_column(at, table.schema.field(at), pc.multiply(table["worst_error_pct"], 1 + copy * 37 % 101 / 100))
        for copy in range(copies)
    ]
    manifest = read_manifest(folder)
    manifest["files"]["solutions.parquet"] = parts.write_parquet(
        folder / "solutions.parquet", [pa.concat_tables(tables)], parts.PART_SCHEMA, {}
    )
    write_manifest(folder, manifest)
    assert pq.ParquetFile(folder / "solutions.parquet").num_row_groups == 2
    return folder


def choice(top: int, form: str = "csv") -> RankChoice:
    return RankChoice(["error", "parts"], {}, [], [], top, form, None, None)


@pytest.mark.deep
def test_the_order_of_csv_is_that_of_the_figures_over_row_groups(many, capsys, monkeypatch):
    monkeypatch.setattr(ranking, "TOGETHER", 1_500)
    assert run_rank([many], choice(1_000_000)) == 0
    lines = list(csv.DictReader(io.StringIO(capsys.readouterr().out)))
    stored = pq.read_table(many / "solutions.parquet").to_pylist()
    stored.sort(key=lambda row: (row["worst_error_pct"], row["parts"]))  # stable, as the table's order decides ties
    assert len(lines) == len(stored) >= 4_500
    for line, row in zip(lines, stored):
        assert line["ring_teeth"] == " ".join(map(str, row["ring_teeth"]))
        assert [re.split("[wp]", word)[0] for word in line["links"].split()] == [
            f"{wheel}/{pinion}" for wheel, pinion in zip(row["link_wheel"], row["link_pinion"])
        ]


class Nowhere(io.TextIOBase):
    """A standard output that keeps nothing."""

    def write(self, text: str) -> int:
        return len(text)


@pytest.mark.deep
@pytest.mark.parametrize("form", ["csv", "json"])
def test_memory_does_not_grow_with_the_rows_that_are_written(many, monkeypatch, form):
    """What Python holds at most, where 50 rows are read together: a row as plain data has some 5 kB."""
    monkeypatch.setattr(sys, "stdout", Nowhere())
    monkeypatch.setattr(ranking, "TOGETHER", 50)
    run_rank([many], choice(10, form))
    most = {}
    for top in (100, 500):
        tracemalloc.start()
        run_rank([many], choice(top, form))
        most[top] = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
    assert most[500] < most[100] + 400_000, most
