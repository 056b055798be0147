"""What the pages are made of, without a browser: words, the plot, the drawing, and what an address asks for."""

from __future__ import annotations

import re
from math import hypot
from types import SimpleNamespace
from typing import get_args

import pytest
from commands import ROOT
from pydantic import BaseModel

from solver import parse_design
from solver.answer.solve import solve
from solver.batch.sweep.table import PointState
from solver.design.ranges import RANK_KEYS
from solver.files.schema import DesignFile
from solver.service.jobs.job import JobView
from solver.service.page import form, wording
from solver.service.page.form_field import VARIED
from solver.service.page.form_rare import DRIVEN
from solver.service.page.job_page import Asked, _has
from solver.service.page.motion import motion
from solver.service.page.plot import HEIGHT, WIDTH, Shown, plot
from solver.service.page.points import OnePoint
from solver.service.page.rendering import rendered, static_files
from solver.service.page.rows import COLUMNS
from solver.service.page.turning import REACH, turning


@pytest.mark.parametrize(
    ("value", "said"),
    [(None, "–"), (0, "0"), (0.00012345, "0.00012"), (0.0123456, "0.01235"), (1.23456, "1.2346"), (45.678, "45.68"),
     (-0.5, "−0.5000")],
)  # fmt: skip
def test_an_error_is_said_with_the_figures_that_count(value: float | None, said: str) -> None:
    assert wording.percent(value) == said


def test_a_signed_error_says_its_sign() -> None:
    assert [wording.percent(value, True) for value in (2, -2, 0)] == ["+2.0000", "−2.0000", "0"]


def test_a_bound_is_cut_off_on_pages_since_what_is_rounded_up_is_not_proven() -> None:
    view = JobView(id="0" * 16, kind="design", title="T", state="solving", reason=None, submitted="2026-01-31",
                   points=dict.fromkeys(PointState, 0), total=1, finished=0, best_worst_error_pct=None, solutions=None,
                   proven=False, bound_worst_error_pct=0.57389999, version=2)  # fmt: skip
    over = view.model_copy(update={"state": "stopped", "bound_worst_error_pct": None})
    told = SimpleNamespace(bound=0.57389999)
    unknown = view.model_copy(update={"bound_worst_error_pct": 0.0})
    shared = {"told": told, "now": "", "elapsed": None, "points": None, "resumable": False}
    *heads, without = (rendered("job_head.html", job=job, **shared).decode() for job in (view, over, unknown))
    assert '<span data-show="bound">–</span>' in without
    point = OnePoint("a" * 64, 1, "T", "as the file says", "open", "ended by a limit", "", (), 0, 0.57389999)
    shared = {"locked": False, "front": None, "rows": (), "columns": (), "units": "mm", "total": 0}
    for page in (*heads, rendered("point.html", job=view, point=point, **shared).decode()):
        said = re.search(r"<dt>None can be below</dt><dd[^>]*>(.*?)</dd>", page)
        assert said is not None and re.sub("<.*?>", "", said[1]) == "0.5738 %"


def test_in_the_list_the_best_error_is_that_of_what_is_under_way_too() -> None:
    """As on the page of the job, and as the script says it a moment later."""
    view = JobView(id="0" * 16, kind="design", title="T", state="solving", reason=None, submitted="2026-01-31",
                   points=dict.fromkeys(PointState, 0), total=1, finished=0, best_worst_error_pct=None, solutions=None,
                   proven=False, version=2)  # fmt: skip
    for judged, found, said in ((None, None, "–"), (None, 0.5, "0.5000"), (0.75, 0.5, "0.5000"), (0.25, 0.5, "0.2500")):
        one = view.model_copy(update={"best_worst_error_pct": judged, "found_worst_error_pct": found})
        told = rendered("jobs_list.html", jobs=[one], total=1, shown=50, offset=0).decode()
        assert f'<span class="figure" data-show="best">{said}</span> %' in told


def test_points_that_are_in_no_state_are_left_out() -> None:
    assert wording.points_words({"waiting": 0, "solved": 2, "failed": 1}, 3) == "3 points: 2 proven, 1 failed"
    assert wording.points_words({}, 1) == "1 point"


def test_of_a_stopped_job_the_best_so_far_is_said_and_no_limit_is_blamed() -> None:
    told = {"kind": "design", "title": "T", "submitted": "2026-01-31", "reason": "a user stopped it", "version": 2}
    points = dict.fromkeys(PointState, 0) | {PointState.STOPPED: 1}
    job = JobView(id="0" * 16, state="stopped", points=points, total=1, finished=0, best_worst_error_pct=0.5,
                  solutions=None, proven=False, **told)  # fmt: skip
    assert wording.best_words(job) == ("best error so far", ", not proven")
    assert wording.points_words(job.points, 1) == "1 point: 1 stopped unproven"


def test_points_without_a_solution_are_told_from_points_of_which_none_was_found() -> None:
    assert wording.barren_words(1, 1) == "1 point has no solution"
    assert wording.barren_words(3, 3) == "3 points have no solution"
    assert wording.barren_words(1, 0) == "no solution was found of 1 point"
    assert wording.barren_words(3, 2) == "no solution was found of 3 points; of 2 it is proven that there is none"


def test_an_address_that_makes_no_sense_is_as_if_it_were_not_there() -> None:
    asked = Asked.of([("by", "-nothing"), ("parts", "few"), ("error", "1,5"), ("page", "-3"), ("text", "x" * 5000)])
    assert (asked.by, asked.page, len(asked.text)) == ("error", 1, 200)
    assert asked.wrong == ("parts",) and asked.limits == {"error": 1.5}
    for hostile in ("nan", "inf", "-1", "1e400"):
        assert Asked.of([("error", hostile)]).limits == {}


def test_the_table_has_a_column_for_every_rank_key() -> None:
    assert tuple(key for key, _, _ in COLUMNS) == RANK_KEYS


def test_every_field_of_the_form_is_one_of_the_design_file() -> None:
    """Or of the sweep file's [vary], by the same path; all but the one that says which fields of [drive] are asked
    for."""
    found = set()
    for path in form.FIELDS:
        keys = path.removeprefix(VARIED).split(".")
        table = DesignFile
        for key in keys if path != DRIVEN else keys[:1]:
            known = {one.alias or name: one.annotation for name, one in table.model_fields.items()}
            assert key in known, path
            tables = [one for one in (get_args(known[key]) or (known[key],)) if isinstance(one, type)]
            table = next((one for one in tables if issubclass(one, BaseModel)), table)
        found.add(keys[0])
    assert found >= {"title", "units", "bodies", "rings", "arbors", "fit", "wire", "supports", "drive", "search"}
    assert form.SET in [one.name for one in form.sets()]


def test_words_are_looked_for_in_any_order_and_at_their_beginning() -> None:
    text = "saturn · rhea 36 · titan 42 · 24, 36, (42)"
    assert all(_has(text, words.split()) for words in ("titan rhea", "24 36 42", "sat", "tit 42", ""))
    assert not any(_has(text, words.split()) for words in ("titan iapetus", "6", "hea"))


def test_no_plot_of_nothing_and_a_plot_of_one() -> None:
    assert plot([]) is None
    one = plot([Shown("a", 1, 0.0, 9)])
    assert one is not None and len(one.marks) == 1 and one.marks[0].front


def test_a_plot_counts_every_solution_once_and_joins_those_that_none_beats() -> None:
    shown = [Shown("p", rank, error, parts) for rank, (error, parts) in enumerate(
        [(0.0, 30), (0.01, 20), (0.0101, 20), (5.0, 9), (40.0, 9), (6.0, 25)], start=1)]  # fmt: skip
    found = plot(shown)
    assert found is not None
    assert sum(1 + mark.others for mark in found.marks) == len(shown)
    assert sorted(mark.shown.rank for mark in found.marks if mark.front) == [1, 2, 4]
    assert all(0 < mark.x < WIDTH and 0 < mark.y < HEIGHT for mark in found.marks)
    middles = [(mark.x, mark.y) for mark in found.marks]
    assert all(hypot(x - u, y - v) >= 12 for i, (x, y) in enumerate(middles) for u, v in middles[:i])
    assert next(word for _, word in found.y_ticks) == "0"
    assert found.line.count("H") == 2


def test_the_drawing_holds_everything_and_keeps_levels_apart() -> None:
    text = '[bodies]\nset = "saturn"\nonly = ["Mimas", "Tethys", "Rhea"]\nsense = "either"\n[arbors]\nthird_gears = 2\n'
    design = parse_design(text)
    moving = motion(design, solve(design).solutions[0])
    drawing = turning(moving)
    left, top, wide, high = drawing.box
    parts = [part for level in drawing.levels for part in level]
    assert len(parts) == len(moving.rings) + len(moving.gears)
    for part in parts:
        assert hypot(part.x, part.y) + part.tip <= REACH + 0.01
        assert left <= part.x - part.tip and part.x + part.tip <= left + wide
        assert top <= -part.y - part.tip and -part.y + part.tip <= top + high
        assert re.fullmatch(r"[-MlazM0-9. e]+", part.outline)
    assert [level[0].tone for level in drawing.levels] == sorted({level[0].tone for level in drawing.levels})


def test_every_template_is_used() -> None:
    """What is included nowhere is seen by nobody, and nothing else would tell."""
    page = ROOT / "solver" / "service" / "page"
    templates = sorted((page / "templates").glob("*.html"))
    text = "".join(path.read_text(encoding="utf-8") for path in [*templates, *page.parent.rglob("*.py")])
    assert [path.name for path in templates if f'"{path.name}"' not in text] == []
    assert len(templates) > 10


def test_scripts_load_nothing_from_elsewhere_and_every_import_is_there() -> None:
    files = static_files()
    for name, content in files.items():
        text = content.decode()
        assert not re.search(r"https?://(?!www\.w3\.org/2000/svg)", text), name
        for wanted in re.findall(r'from "\./([\w.]+)"', text):
            assert wanted in files
        if name.endswith(".js"):
            assert text.startswith("// "), f"{name} does not say what it is for"
