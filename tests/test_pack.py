"""The whole pack: what it tells agrees with itself, is the same each time, and is written whole or not at all."""

from __future__ import annotations

import csv
import io
import os
import re
import signal
import subprocess
import sys
from collections import Counter
from html.parser import HTMLParser
from pathlib import Path
from urllib.parse import unquote

import ezdxf
import pytest
from commands import CONFIGS, ROOT, forked, run
from pypdf import PdfReader
from shipped import DISCS, PLAIN, shipped

from solver import Design, parse_design, solve
from solver.answer.document import Answer
from solver.batch.store.runs import save_run
from solver.design.errors import DesignError
from solver.sheets.book import pack as pack_module
from solver.sheets.book.folder import write_folder
from solver.sheets.book.pack import make_pack, write_pack
from solver.sheets.errors import MissingExtra, SheetsError
from solver.sheets.views.spots import origin_of
from solver.words.lengths import Lengths

pytestmark = pytest.mark.slow
HALL = DISCS.read_text(encoding="utf-8")

# A table model in inches with third gears, plate at the front, no rollers, gears cut from plate.
INCHES = """
title = "Two <giants> & a moon"
units = "in"
[bodies]
sense = "either"
[[bodies.list]]
name = "Io <b>"
period = 1
[[bodies.list]]
name = "Ganymed ő木"
period = "21/10"
[[bodies.list]]
name = "Far"
period = 9
[rings]
inner_teeth = 24
tooth_step = 6
tooth_pitch = 0.5
addendum = 0.16
rim = 0.2
level_spacing = 0.6
[arbors]
wheel_teeth = {min = 8, max = 24}
pinion_teeth = {min = 8, max = 24}
third_gears = 1
third_teeth = {min = 8, max = 14}
[fit]
frame = {shape = "round", diameter = 20}
clearance = 0.05
plate = "outer"
post_radius = 0.05
[drive]
motor_rpm = [3]
pinion_teeth = {min = 8, max = 12}
[search]
keep = 2
"""
# Rims as deep as the roots of teeth that are cut, with metal left below.
CYCLOIDAL = INCHES.replace("rim = 0.2", "rim = 0.3") + '[wire]\nform = "cycloidal"\n'
# No frame, no plate, no motor: everything is held in its own gap.
OPEN = re.sub(r"\[fit\].*?\[search\]", "[fit]\nclearance = 1\n[search]", HALL, flags=re.S)


SOURCES = {  # design, paper, and whether both units are told
    "hall": (HALL, "a4", False),
    "inches": (INCHES, "letter", True),
    "cycloidal": (CYCLOIDAL, "a3", False),
    "open": (OPEN, "a4", False),
}


def solved(text: str) -> tuple[Design, Answer]:
    design = parse_design(text)
    return design, solve(design)


class Packs(dict[str, tuple[Design, Answer, dict[str, bytes]]]):
    """Made when they are asked for."""

    def __missing__(self, name: str) -> tuple[Design, Answer, dict[str, bytes]]:
        text, paper, both = SOURCES[name]
        design, answer = shipped(DISCS.stem) if name == "hall" else solved(text)
        files = make_pack(design, answer.solutions[0], paper, Lengths(design.units, both)).files
        self[name] = (design, answer, files)
        return self[name]


@pytest.fixture(scope="module")
def packs() -> Packs:
    return Packs()


NAMES = ("inches", *(pytest.param(name, marks=pytest.mark.deep) for name in ("hall", "cycloidal", "open")))


def rows_of(files: dict[str, bytes], name: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(files[name].decode())))


class Page(HTMLParser):
    """Collects tags that are left open, links, addresses, texts and identifiers."""

    VOID = ("meta", "br", "link", "img", "hr")

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.links: list[str] = []
        self.loads: list[str] = []
        self.ids: list[str] = []
        self.tags: Counter[str] = Counter()
        self.words: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags[tag] += 1
        for key, value in attrs:
            if tag == "a" and key == "href":
                self.links.append(value or "")
            elif key in ("src", "href", "data", "action", "srcset"):
                self.loads.append(value or "")
            elif key == "id":
                self.ids.append(value or "")
        if tag not in self.VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags[tag] += 1

    def handle_endtag(self, tag: str) -> None:
        assert self.open and self.open[-1] == tag, f"</{tag}> closes {self.open[-3:]}"
        self.open.pop()

    def handle_data(self, data: str) -> None:
        self.words.append(data)


def page_of(files: dict[str, bytes]) -> Page:
    page = Page()
    page.feed(files["index.html"].decode())
    page.close()
    assert page.open == []
    return page


@pytest.mark.deep
@pytest.mark.parametrize("name", NAMES)
def test_the_page_needs_nothing_else_and_its_links_lead_somewhere(name: str, packs) -> None:
    _, _, files = packs[name]
    page = page_of(files)
    assert page.loads == []
    text = files["index.html"].decode()
    assert not re.search(r"@import|url\(|<script|<link|https?://(?!www\.w3\.org/2000/svg)", text)
    inside = [link[1:] for link in page.links if link.startswith("#")]
    assert inside and set(inside) <= set(page.ids) and len(set(page.ids)) == len(page.ids)
    outside = {unquote(link) for link in page.links if not link.startswith("#")}
    for link in outside:
        assert link in files or any(file.startswith(link) for file in files if link.endswith("/")), link
    assert {"templates.pdf", "placement.pdf", "parts.csv", "cuts.csv", "drilling.csv"} <= outside
    assert {file for file in files if file.startswith("jigs/")} <= outside
    assert "@media print" in text and "@page" in text


@pytest.mark.parametrize("name", NAMES)
def test_every_chapter_is_there_with_its_cautions(name: str, packs) -> None:
    design, _, files = packs[name]
    words = " ".join(" ".join(page_of(files).words).split())
    book = " ".join(" ".join(page.extract_text() for page in PdfReader(io.BytesIO(files["sheets.pdf"])).pages).split())
    for chapter in (
        "Parts list",
        "Tooth form",
        "Cut list",
        "Placement: front view",
        "Drilling table",
        "Exploded view",
        "Build order",
    ):
        assert chapter in words and chapter in book
    for caution in ("cadmium", "5 µg/m³", "silica", "No gloves", "fume", "Local codes"):
        assert caution in words and caution in book
    assert ("electrician" in words) is (design.drive is not None)


@pytest.mark.parametrize("name", NAMES)
def test_every_gear_has_its_jig_and_every_jig_its_files(name: str, packs) -> None:
    _, answer, files = packs[name]
    best = answer.solutions[0]
    rings = {f"R{ring.teeth}" for ring in best.rings}
    small = {f"G{teeth}" for link in best.links for teeth in (link.wheel, link.pinion, *link.thirds)}
    if best.drive is not None:
        small |= {f"G{teeth}" for teeth in (best.drive.pinion, *best.drive.thirds)}
    made = {file.split("/")[1].split(".")[0] for file in files if file.startswith("jigs/")}
    assert made == rings | small
    told = " ".join(page.extract_text() for page in PdfReader(io.BytesIO(files["templates.pdf"])).pages)
    for jig in made:
        assert f"jigs/{jig}.svg" in files and f"jigs/{jig}.dxf" in files
        assert re.search(rf"\b{jig}\b", told)


@pytest.mark.parametrize(
    ("name", "plate"),
    [
        ("inches", False),
        *(pytest.param(*one, marks=pytest.mark.deep) for one in (("hall", False), ("cycloidal", True))),
    ],
)
def test_the_page_tells_what_jigs_have_holes_for(name: str, plate: bool, packs) -> None:
    words = " ".join(" ".join(page_of(packs[name][2]).words).split())
    assert ("with the holes of every tooth" in words) is not plate
    assert ("the outline that is cut from plate and the hole in its middle" in words) is plate


@pytest.mark.parametrize("name", NAMES)
def test_lists_agree_with_each_other(name: str, packs) -> None:
    _, answer, files = packs[name]
    best, parts = answer.solutions[0], rows_of(files, "parts.csv")
    count = Counter[str]()
    for row in parts:
        count[row["group"]] += int(row["count"])
    links = len(best.links)
    assert count["rings"] == len(best.rings)
    assert count["wheels"] == count["pinions"] == count["arbors"] == links
    thirds = sum(len(link.thirds) for link in best.links) + (len(best.drive.thirds) if best.drive else 0)
    assert count["third gears"] == thirds
    rollers = sum(len(ring.rollers) for ring in best.rings)
    assert count["rollers"] == rollers
    drilled = rows_of(files, "drilling.csv")
    assert len(drilled) == links + thirds + rollers + (best.drive is not None)
    words = " ".join(" ".join(page_of(files).words).split())
    joints = next(int(row["count"]) for row in parts if row["group"] == "joints")
    assert f"{joints} solder joints" in words
    cuts = rows_of(files, "cuts.csv")
    for row in cuts:
        assert float(row["saw_mm"]) >= float(row["net_mm"])
        assert float(row["all_mm"]) == pytest.approx(int(row["count"]) * float(row["saw_mm"]), abs=0.051)
    pieces = sum(int(row["count"]) for row in cuts)
    told = sum(
        int(found) for row in parts if row["group"] == "wire" for found in re.findall(r"(\d+) pieces", row["size"])
    )
    by_gauge = {row["size"].split(",")[0]: row for row in parts if row["group"] == "wire"}
    assert (
        pieces
        == sum(int(re.findall(r"(\d+) pieces", row["size"])[0]) for row in by_gauge.values())
        <= max(told, pieces)
    )


@pytest.mark.parametrize("name", NAMES)
def test_drawings_read_back_in_millimetres(name: str, packs) -> None:
    design, answer, files = packs[name]
    for file, data in files.items():
        if file.endswith(".dxf"):
            document = ezdxf.read(io.StringIO(data.decode()))
            assert document.header["$INSUNITS"] == 4
            assert not document.audit().errors
    jig = next(f"jigs/R{ring.teeth}.dxf" for ring in answer.solutions[0].rings)
    document = ezdxf.read(io.StringIO(files[jig].decode()))
    pitch = document.modelspace().query("CIRCLE[layer=='pitch']")[0].dxf.radius
    assert pitch == pytest.approx(design.rings.pitch.radius_mm(answer.solutions[0].rings[0].teeth), abs=1e-3)
    holes = document.modelspace().query("CIRCLE[layer=='drill-arbor']")
    assert not holes
    placement = ezdxf.read(io.StringIO(files["placement.dxf"].decode()))
    arbors = placement.modelspace().query("CIRCLE[layer=='drill-arbor']")
    assert len(arbors) == len(answer.solutions[0].links)
    spots = sorted((one.dxf.center.x, one.dxf.center.y) for one in arbors)
    left, bottom = origin_of(design).at
    wanted = sorted(
        (link.arbor.x_mm - left, link.arbor.y_mm - bottom) for link in answer.solutions[0].links if link.arbor
    )
    for spot, want in zip(spots, wanted):
        assert spot == pytest.approx(want, abs=1e-6)


@pytest.mark.parametrize(
    ("name", "paper"),
    [
        ("inches", (215.9, 279.4)),
        pytest.param("hall", (210, 297), marks=pytest.mark.deep),
        pytest.param("cycloidal", (297, 420), marks=pytest.mark.deep),
    ],
)
def test_every_page_is_the_paper_that_was_asked_for(name: str, paper: tuple[float, float], packs) -> None:
    for file, data in packs[name][2].items():
        if file.endswith(".pdf"):
            for page in PdfReader(io.BytesIO(data)).pages:
                size = sorted(float(side) * 25.4 / 72 for side in (page.mediabox.width, page.mediabox.height))
                assert size == pytest.approx(sorted(paper), abs=0.01)


def test_both_units_are_told_where_they_are_asked_for(packs) -> None:
    heads = list(rows_of(packs["inches"][2], "drilling.csv")[0])
    assert "x [in]" in heads and "x [mm]" in heads
    for row in rows_of(packs["inches"][2], "drilling.csv"):
        assert float(row["x [in]"]) * 25.4 == pytest.approx(float(row["x [mm]"]), abs=0.02)


@pytest.mark.deep
def test_one_unit_is_told_where_one_is_asked_for(packs) -> None:
    heads = list(rows_of(packs["hall"][2], "drilling.csv")[0])
    assert "x [mm]" in heads and "x [in]" not in heads


def test_the_same_solution_gives_the_same_bytes(packs) -> None:
    design, answer, files = packs["inches"]
    again = make_pack(design, answer.solutions[0], "letter", Lengths("in", True)).files
    assert list(again) == list(files)
    assert [file for file in files if again[file] != files[file]] == []


def test_names_are_shown_as_written(packs) -> None:
    _, _, files = packs["inches"]
    words = " ".join(page_of(files).words)
    assert "Two <giants> & a moon" in words and "Ganymed ő木" in words and "Io <b>" in words


# -- the folder ------------------------------------------------------------------------------------------------------


def test_a_folder_is_written_whole(tmp_path: Path) -> None:
    out = tmp_path / "new" / "pack"
    write_folder(out, {"a.txt": b"a", "jigs/b.txt": b"b"})
    assert (out / "a.txt").read_bytes() == b"a" and (out / "jigs" / "b.txt").read_bytes() == b"b"
    assert [path.name for path in out.parent.iterdir()] == ["pack"]
    empty = tmp_path / "empty"
    empty.mkdir()
    write_folder(empty, {"a.txt": b"a"})
    assert (empty / "a.txt").exists()


@pytest.mark.parametrize("fault", [OSError(28, "No space left on device"), KeyboardInterrupt()])
def test_nothing_is_left_of_what_could_not_be_finished(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, fault: BaseException
) -> None:
    began: list[str] = []
    whole = Path.open

    def broken(self: Path, *words, **more):
        began.append(self.name)
        if self.name == "c.txt":
            raise fault
        return whole(self, *words, **more)

    monkeypatch.setattr(Path, "open", broken)
    with pytest.raises(SheetsError if isinstance(fault, OSError) else KeyboardInterrupt) as raised:
        write_folder(tmp_path / "new" / "pack", {"a.txt": b"a", "b/c.txt": b"b", "d.txt": b"d"})
    assert began == ["a.txt", "c.txt"]
    assert list(tmp_path.iterdir()) == []
    if isinstance(fault, OSError):
        assert "No space left" in str(raised.value) and "\n" not in str(raised.value)


def test_what_a_killed_process_left_is_removed(tmp_path: Path) -> None:
    ended = subprocess.Popen([sys.executable, "-c", ""])
    ended.wait()
    gone, mine = tmp_path / f".half-written-{ended.pid}-0123abcd", tmp_path / f".half-written-{os.getpid()}-0123abcd"
    other = tmp_path / f".half-written-{ended.pid}-notes"
    for folder in (gone, mine, other):
        folder.mkdir()
        (folder / "a.txt").write_text("a")
    write_folder(tmp_path / "pack", {"a.txt": b"a"})
    assert not gone.exists() and mine.exists() and other.exists()


@pytest.mark.parametrize(
    "signum",
    [signal.SIGTERM, *(pytest.param(one, marks=pytest.mark.deep) for one in (signal.SIGINT, signal.SIGHUP))],
)
def test_a_signal_while_writing_leaves_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, small: Path, signum: int
) -> None:
    """The signal comes while the third file is written."""
    whole, began = Path.open, []

    def opened(self: Path, *words, **more):
        if self.parent.name.startswith(".half-written-") and words == ("wb",):
            began.append(self.name)
            if len(began) == 3:
                signal.raise_signal(signum)
        return whole(self, *words, **more)

    monkeypatch.setattr(Path, "open", opened)
    found = forked("sheets", str(small), "--out", "new/pack", cwd=tmp_path)
    assert found == (128 + signum, b"", b"interrupted: no sheets were written\n")
    assert list(tmp_path.iterdir()) == []


def test_a_missing_library_is_told_in_one_line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    design, answer = shipped(DISCS.stem)
    monkeypatch.setattr(pack_module, "find_spec", lambda name: None if name == "ezdxf" else object())
    with pytest.raises(MissingExtra, match=r"^ezdxf is not installed; .*pip install 'ringwright\[sheets\]'$"):
        write_pack(design, answer.solutions[0], tmp_path / "x")
    assert list(tmp_path.iterdir()) == []


def test_other_commands_do_without_the_extra() -> None:
    code = (
        "import sys\n"
        "for name in ('ezdxf', 'jinja2', 'reportlab', 'shapely'): sys.modules[name] = None\n"
        "import solver.cli.app, solver.sheets.views.drawn, solver.files.load\n"
        "from solver import load_design\n"
        f"load_design({str(CONFIGS / 'saturn-hall.toml')!r})\n"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, timeout=120)
    assert done.returncode == 0, done.stderr


# -- the command -----------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def stored(tmp_path_factory: pytest.TempPathFactory, packs) -> Path:
    return save_run(tmp_path_factory.mktemp("runs"), HALL, packs["hall"][1], {"command": "solve"})


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory, packs) -> Path:
    return save_run(tmp_path_factory.mktemp("runs"), INCHES, packs["inches"][1], {"command": "solve"})


@pytest.mark.deep
def test_a_stored_run_and_its_file_give_the_same_pack(tmp_path: Path, stored: Path, packs) -> None:
    code, out, err = run("sheets", str(stored), "--out", str(tmp_path / "a"), cwd=tmp_path)
    judged, wrote = err.splitlines()
    assert (code, out) == (0, "") and "the file has no [wire] table" in judged and "index.html" in wrote
    files = {
        path.relative_to(tmp_path / "a").as_posix(): path.read_bytes()
        for path in (tmp_path / "a").rglob("*")
        if path.is_file()
    }
    design, answer, _ = packs["hall"]  # solved afresh, in this process
    assert files == make_pack(design, answer.solutions[0], "a4", Lengths(design.units), "proven best").files
    code, _, err = run("sheets", str(stored), "--rank", "2", "--out", str(tmp_path / "b"), cwd=tmp_path)
    assert code == 0
    assert (tmp_path / "b" / "parts.csv").read_bytes() != files["parts.csv"]
    assert "Solution 2:" in (tmp_path / "b" / "index.html").read_text()


def changed(old: str, new: str) -> str:
    assert old in HALL
    return HALL.replace(old, new)


BAD_FILES = {
    "no places": (changed("directions = 24", 'directions = "none"').split("[drive]")[0], "fit.directions"),
    "unknown gauge": (HALL + '\n[wire]\nloop = "AWG 99"\n', "AWG 99"),
    "no such form": (HALL + '\n[wire]\nform = "sow"\n', 'did you mean "saw"'),
    "stock too short": (changed("addendum = 2.5", "addendum = 6.8") + "\n[wire]\nstock = [15]\n", "wire.stock"),
}


@pytest.mark.parametrize("case", list(BAD_FILES))
def test_bad_files_are_refused_in_one_line(case: str, tmp_path: Path) -> None:
    text, said = BAD_FILES[case]
    if case in ("no places", "stock too short"):  # which needs teeth that run, and room for them
        text = re.sub(r"rollers = .*|frame = .*|plate = .*|stands = .*|post_radius = .*", "", text)
    (tmp_path / "hall.toml").write_text(text)
    code, out, err = run("sheets", "hall.toml", "--out", "new/pack", cwd=tmp_path)
    assert (code, out) == (2, ""), err
    assert err.count("\n") == 1 and err.startswith("hall.toml: ") and said in err
    assert sorted(path.name for path in tmp_path.iterdir()) == ["hall.toml"]


def test_bad_words_and_folders_are_refused_in_one_line(tmp_path: Path, small: Path) -> None:
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "kept.txt").write_text("kept")
    (tmp_path / "file").write_text("kept")
    before = sorted(path.name for path in tmp_path.rglob("*"))
    source = str(small)
    for words, said in (
        (("--rank", "99", "--out", "x"), "has 2 solutions"),
        (("--out", "full"), "not empty"),
        (("--out", "file"), "is no folder"),
        (("--out", "file/x"), "--out file/x: file is no folder"),
        (("--out", "/proc/nowhere/x"), "--out /proc/nowhere/x: cannot be written: /proc: "),
        (("--out", "x", "--paper", "a5"), "choose a4, letter, a3"),
    ):
        code, out, err = run("sheets", source, *words, cwd=tmp_path)
        assert (code, out) == (2, ""), err
        assert err.count("\n") == 1 and said in err, err
        assert sorted(path.name for path in tmp_path.rglob("*")) == before
    code, _, err = run("sheets", "nowhere.toml", "--out", "x", cwd=tmp_path)
    assert code == 2 and err == "nowhere.toml: No such file or directory\n"
    code, _, err = run("sheets", "full", "--out", "x", cwd=tmp_path)
    assert code == 2 and "not a stored run" in err and err.count("\n") == 1
    (tmp_path / "full" / "manifest.json").write_text("{}")
    code, _, err = run("sheets", "full", "--out", "x", cwd=tmp_path)
    assert code == 2 and err == "full: a sweep; choose one of its points with --point ID or --best N\n"


def test_a_changed_run_and_one_without_geometry_are_refused(tmp_path: Path) -> None:
    run_folder = save_run(tmp_path / "runs", HALL, shipped(DISCS.stem)[1], {"command": "solve"})
    with (run_folder / "solutions.parquet").open("ab") as stream:
        stream.write(b"x")
    code, _, err = run("sheets", str(run_folder), "--out", "x", cwd=tmp_path)
    assert code == 2 and err.count("\n") == 1
    text = (PLAIN / "four-gears.toml").read_text()
    bare = save_run(tmp_path / "bare", text, shipped("four-gears")[1], {"command": "solve"})
    code, _, err = run("sheets", str(bare), "--out", "x", cwd=tmp_path)
    assert code == 2 and "arbors.reverted" in err and err.count("\n") == 1
    assert not (tmp_path / "x").exists()


@pytest.mark.deep
def test_the_command_says_what_does_not_run(tmp_path: Path) -> None:
    """Of a design that is judged as plain discs; one that is judged as made has no such remark."""
    (tmp_path / "hall.toml").write_text(HALL.replace("addendum = 2.5", "addendum = 0.5"))
    code, out, err = run("sheets", "hall.toml", "--out", "x", cwd=tmp_path)
    assert (code, out) == (0, "")
    judged, first, last = err.splitlines()
    assert judged == "note: running and thickness were not judged: the file has no [wire] table"
    words = " ".join((tmp_path / "x" / "index.html").read_text().split())
    count = words.count(". It does not run as designed")
    assert count > 1 and first.startswith(f"note: {count} remarks say that this model does not run as designed")
    assert "What to mind" in first and last.startswith("wrote ")


def test_what_fits_nowhere_gives_no_sheets(tmp_path: Path) -> None:
    (tmp_path / "tight.toml").write_text(changed("side = 460", "side = 300"))
    code, _, err = run("sheets", "tight.toml", "--out", "x", cwd=tmp_path)
    assert code == 3 and "nothing fits" in err
    assert not (tmp_path / "x").exists()


def test_from_python_a_design_without_places_is_refused(tmp_path: Path) -> None:
    design, answer = shipped("four-gears")
    with pytest.raises(DesignError, match="sheets need places"):
        write_pack(design, answer.solutions[0], tmp_path / "x")
    assert list(tmp_path.iterdir()) == []


# -- very large models -----------------------------------------------------------------------------------------------


def large(pitch: int) -> Design:
    """Two rings of 300 teeth and more, cut from plate."""
    return parse_design(f"""
title = "Giant"
[bodies]
sense = "either"
[[bodies.list]]
name = "A"
period = 1
[[bodies.list]]
name = "B"
period = 2
[rings]
teeth = [300, 306]
tooth_pitch = {pitch}
addendum = {pitch / 5}
rim = {pitch / 2}
level_spacing = 14
[arbors]
wheel_teeth = {{min = 5, max = 30}}
pinion_teeth = {{min = 5, max = 30}}
[fit]
clearance = 1
[search]
keep = 1
[wire]
form = "involute"
""")


@pytest.mark.deep
@pytest.mark.parametrize(("pitch", "pages"), [(50, 1075), (5000, None)])
def test_templates_of_very_many_pages_are_left_out(pitch: int, pages: int | None) -> None:
    """A4 leaves tiles of 180 by 253 mm beside the overlap: rings 4.8 and 4.9 m across take 27 by 19 and 28 by 20 of
    them, and a gear of 22 cm two."""
    design = large(pitch)
    pack = make_pack(design, solve(design).solutions[0], "a4", Lengths("mm"))
    said = next(line for line in pack.notices if line.startswith("templates.pdf"))
    told = re.fullmatch(r"templates\.pdf would take (\d+) pages of tiles, more than 400: .* jigs/.*SVG and DXF", said)
    assert told and (int(told[1]) == pages if pages else int(told[1]) > 10**6)
    text = " ".join(page.extract_text() for page in PdfReader(io.BytesIO(pack.files["templates.pdf"])).pages)
    assert f"would take {told[1]} pages" in " ".join(text.split())
    assert said in " ".join(" ".join(page_of(pack.files).words).split())
    for ring in (300, 306):
        assert f"jigs/R{ring}.svg" in pack.files and f"jigs/R{ring}.dxf" in pack.files


@pytest.mark.deep
def test_usual_models_have_all_their_templates(packs) -> None:
    design, answer, files = packs["hall"]
    pack = make_pack(design, answer.solutions[0], "a4", Lengths("mm"))
    assert pack.files == files and not any("pages" in line for line in pack.notices)
