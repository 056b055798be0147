"""Templates 1:1, read back with other programs: every hole of a jig is where its plan says, in true millimetres."""

from __future__ import annotations

import io
import math
import os
import re
import subprocess
import sys
import xml.etree.ElementTree as ET
from collections import Counter

import ezdxf
import pytest
from commands import ROOT

from solver.forms.plans import Hole, JigPlan
from solver.sheets.draw.drawing import Circle, Drawing, Polyline, polar
from solver.sheets.draw.layers import LAYERS
from solver.sheets.draw.lettering import printable, wrap
from solver.sheets.draw.marks import scale_bar
from solver.sheets.draw.out_dxf import dxf
from solver.sheets.draw.out_svg import svg_document, svg_figure
from solver.sheets.views.templates import facts, merged, template, with_scale_bar
from solver.words.lengths import Lengths

MM = Lengths("mm")
SVG = "{http://www.w3.org/2000/svg}"


def jig(kind: str, teeth: int, pitch: float = 17.0, height: float = 2.5, uses: tuple[str, ...] = ()) -> JigPlan:
    """A jig with a hole at each root and each tip, a small gear's also one for each pin and the centre."""
    radius = teeth * pitch / (2 * math.pi)
    each = 360 / teeth
    holes, outline = [], []
    for tooth in range(teeth):
        holes.append(Hole(radius - height, each * tooth, 1.6, "root"))
        holes.append(Hole(radius + height, each * (tooth + 0.5), 1.7, "tip"))
        if kind == "gear":
            holes.append(Hole(radius, each * (tooth + 0.25), 2.0, "pin"))
        outline += [polar(radius - height, each * tooth), polar(radius + height, each * (tooth + 0.5))]
    holes.append(Hole(0.0, 0.0, 2.1, "centre"))
    name = f"jig {'R' if kind == 'ring' else 'G'}{teeth}"
    return JigPlan(
        name, kind, teeth, radius, radius + height, radius - height, tuple(holes), ((*outline, outline[0]),),
        uses or (f"{kind} 3",),
    )  # fmt: skip


def read_dxf(text: str) -> ezdxf.document.Drawing:
    document = ezdxf.read(io.StringIO(text))
    assert not document.audit().errors
    return document


@pytest.mark.parametrize(("kind", "teeth", "pitch"), [("ring", 66, 17.0), ("gear", 5, 17.0), ("gear", 18, 25.4)])
def test_every_hole_in_the_dxf_is_where_the_plan_says(kind: str, teeth: int, pitch: float) -> None:
    plan = jig(kind, teeth, pitch)
    document = read_dxf(dxf(with_scale_bar(template(plan, MM))))
    assert document.header["$INSUNITS"] == 4  # millimetres (DXF reference)
    assert document.header["$MEASUREMENT"] == 1
    circles = [one for one in document.modelspace().query("CIRCLE") if one.dxf.layer.startswith("holes-")]
    counts = Counter(one.dxf.layer for one in circles)
    expected = {"holes-root": teeth, "holes-tip": teeth, "holes-centre": 1}
    if kind == "gear":
        expected["holes-pin"] = teeth
    assert counts == expected
    left = list(circles)
    for hole in plan.holes:
        x, y = polar(hole.radius_mm, hole.angle_deg)
        found = min(left, key=lambda one: math.hypot(one.dxf.center.x - x, one.dxf.center.y - y))
        left.remove(found)
        at = found.dxf.center
        assert math.hypot(at.x, at.y) == pytest.approx(hole.radius_mm, abs=1e-3)
        turned = math.atan2(at.y, at.x) - math.radians(hole.angle_deg)
        assert abs(math.remainder(turned, 2 * math.pi)) * hole.radius_mm < 1e-3
        assert found.dxf.radius == pytest.approx(hole.diameter_mm / 2, abs=1e-3)
        assert found.dxf.layer == f"holes-{hole.what}"
    assert not left
    assert {one.dxf.layer for one in document.modelspace()} <= set(LAYERS)


def test_holes_are_one_tooth_pitch_apart_along_the_pitch_circle() -> None:
    teeth, pitch = 42, 17.0
    plan = jig("ring", teeth, pitch)
    document = read_dxf(dxf(template(plan, MM)))
    pitch_circle = [one for one in document.modelspace().query("CIRCLE") if one.dxf.layer == "pitch"]
    assert len(pitch_circle) == 1
    radius = pitch_circle[0].dxf.radius
    assert 2 * math.pi * radius == pytest.approx(teeth * pitch, abs=1e-6)  # definition of the tooth pitch
    roots = [one.dxf.center for one in document.modelspace().query("CIRCLE") if one.dxf.layer == "holes-root"]
    angles = sorted(math.atan2(at.y, at.x) for at in roots)
    gaps = [after - before for before, after in zip(angles, [*angles[1:], angles[0] + 2 * math.pi])]
    assert all(gap * radius == pytest.approx(pitch, abs=1e-3) for gap in gaps)


def test_centre_and_scale_bar_in_the_dxf() -> None:
    document = read_dxf(dxf(with_scale_bar(template(jig("gear", 9), MM))))
    marks = document.modelspace().query("LINE[layer=='centre']")
    assert len(marks) == 2
    assert all((one.dxf.start + one.dxf.end).magnitude < 1e-9 for one in marks)  # both halves meet in the middle
    bars = [list(one.get_points("xy")) for one in document.modelspace().query("LWPOLYLINE[layer=='scale-bar']")]
    longest = max(max(x for x, _ in bar) - min(x for x, _ in bar) for bar in bars)
    assert longest == pytest.approx(100.0, abs=1e-9)
    assert any("print at 100 %" in one.dxf.text for one in document.modelspace().query("TEXT"))


def test_the_svg_is_in_millimetres() -> None:
    plan = jig("ring", 30)
    drawing = with_scale_bar(template(plan, MM))
    root = ET.fromstring(svg_document(drawing, margin=5.0))
    wide, high = drawing.size
    width, height = root.attrib["width"], root.attrib["height"]
    assert width.endswith("mm") and height.endswith("mm")
    assert float(width[:-2]) == pytest.approx(wide + 10, abs=1e-3)
    assert float(height[:-2]) == pytest.approx(high + 10, abs=1e-3)
    box = [float(part) for part in root.attrib["viewBox"].split()]
    assert box[2] == float(width[:-2]) and box[3] == float(height[:-2])  # one unit is a millimetre both ways
    holes = [
        one
        for group in root.iter(f"{SVG}g")
        if group.attrib.get("id", "").startswith("holes-")
        for one in group.iter(f"{SVG}circle")
    ]
    assert len(holes) == 2 * 30 + 1
    centre = next(group for group in root.iter(f"{SVG}g") if group.attrib.get("id") == "pitch").find(f"{SVG}circle")
    x, y = float(centre.attrib["cx"]), float(centre.attrib["cy"])
    for hole in holes:
        away = math.hypot(float(hole.attrib["cx"]) - x, float(hole.attrib["cy"]) - y)
        assert min(abs(away - radius) for radius in (plan.root_radius_mm, plan.tip_radius_mm, 0.0)) < 1e-3
    bars = [one for group in root.iter(f"{SVG}g") if group.attrib.get("id") == "scale-bar" for one in group]
    xs = [float(pair.split(",")[0]) for bar in bars if "points" in bar.attrib for pair in bar.attrib["points"].split()]
    assert max(xs) - min(xs) == pytest.approx(100.0, abs=1e-3)


def test_y_is_upwards_in_the_drawing_and_turned_once_in_the_svg() -> None:
    drawing = Drawing("d", (Circle((0.0, 0.0), 1.0, "pitch"), Circle((0.0, 10.0), 1.0, "holes-root")))
    root = ET.fromstring(svg_document(drawing))
    low, high = (float(one.attrib["cy"]) for one in root.iter(f"{SVG}circle"))
    assert low - high == pytest.approx(10.0)
    above = read_dxf(dxf(drawing)).modelspace().query("CIRCLE[layer=='holes-root']")[0]
    assert above.dxf.center.y == 10.0


def test_what_is_told_on_a_template() -> None:
    plan = jig("gear", 12, uses=("wheel of link 3", "pinion of link 4", "wheel of link 7"))
    told = " ".join(facts(plan, MM)).replace("\u00a0", " ")
    assert "12 teeth" in told and "30°" in told
    assert f"Ø {2 * plan.pitch_radius_mm:.2f} mm" in told
    assert "12 root holes Ø 1.6 mm" in told and "1 centre hole Ø 2.1 mm" in told
    assert "wheel of links 3 and 7; pinion of link 4" in told
    both = " ".join(facts(plan, Lengths("in", both=True))).replace("\u00a0", " ")
    inches = re.search(r"pitch Ø ([\d.]+) in \(([\d.]+) mm\)", both)
    assert inches is not None
    assert float(inches[1]) * 25.4 == pytest.approx(2 * plan.pitch_radius_mm, abs=0.02)
    assert float(inches[2]) == pytest.approx(2 * plan.pitch_radius_mm, abs=0.005)


def test_uses_of_one_kind_are_told_together() -> None:
    assert merged(["wheel of link 0"]) == ["wheel of link 0"]
    assert merged(["wheel of link 0", "wheel of link 2", "wheel of link 5"]) == ["wheel of links 0, 2 and 5"]
    sides = ["third gear of link 1 (wheel side)", "third gear of link 4 (wheel side)"]
    assert merged(sides) == ["third gear of links 1 and 4 (wheel side)"]
    assert merged(["ring 3 (Dione)", "motor pinion"]) == ["ring 3 (Dione)", "motor pinion"]


def test_the_text_stands_clear_of_holes() -> None:
    for plan in (jig("ring", 30), jig("ring", 66), jig("gear", 5), jig("gear", 24)):
        drawing = template(plan, MM)
        title = next(shape for shape in drawing.shapes if getattr(shape, "text", "") == plan.name.removeprefix("jig "))
        lines = [shape for shape in drawing.shapes if getattr(shape, "size", 0.0) >= 3.0 and hasattr(shape, "text")]
        assert title in lines
        one_box = Drawing("text", tuple(lines)).box
        for hole in plan.holes:
            x, y = polar(hole.radius_mm, hole.angle_deg)
            away = math.hypot(max(one_box[0] - x, 0, x - one_box[2]), max(one_box[1] - y, 0, y - one_box[3]))
            assert away > hole.diameter_mm / 2, f"{plan.name}: text over a {hole.what} hole"


def test_the_same_drawing_gives_the_same_bytes() -> None:
    drawing = with_scale_bar(template(jig("gear", 7), MM))
    assert dxf(drawing) == dxf(drawing)
    assert svg_document(drawing) == svg_document(drawing)


@pytest.mark.deep
def test_another_process_writes_the_same_dxf() -> None:
    code = (
        "import sys\nfrom solver.sheets.draw.drawing import Circle, Drawing\n"
        "from solver.sheets.draw.out_dxf import dxf\n"
        "sys.stdout.write(dxf(Drawing('d', (Circle((0.0, 0.0), 1.0, 'pitch'),))))"
    )
    written = {
        subprocess.run(
            [sys.executable, "-c", code],
            cwd=ROOT,
            env={**os.environ, "PYTHONHASHSEED": str(seed)},
            capture_output=True,
            check=True,
            timeout=120,
        ).stdout
        for seed in range(8)
    }
    assert len(written) == 1


def test_hostile_names_neither_break_nor_vanish() -> None:
    name = "<b>\"Io\" & '木星' %%c ^J \x00\u202e Ő"
    plan = jig("ring", 12, uses=(name,))
    drawing = template(plan, MM)
    ET.fromstring(svg_document(drawing))
    ET.fromstring(svg_figure(drawing))
    texts = [one.plain_text() for one in read_dxf(dxf(drawing)).modelspace().query("TEXT")]
    assert any("木星" in text for text in texts)
    assert printable("Ő 木 ° Ø") == "Ő ? ° Ø"


def test_the_scale_bar_is_100_mm_and_a_layer_must_exist() -> None:
    outline = scale_bar(3.0, 4.0)[0]
    assert isinstance(outline, Polyline)
    xs = [x for x, _ in outline.points]
    assert max(xs) - min(xs) == 100.0
    with pytest.raises(KeyError):
        Drawing("d", (Circle((0.0, 0.0), 1.0, "no such layer"),))


def test_a_value_and_its_unit_stay_together() -> None:
    """A line that would break within a value breaks before it, however early that is."""
    for widest in range(36, 60):
        for text in (
            "1 centre hole Ø\u00a02\u00a0mm\u00a0(0.079\u00a0in)",
            "hub Ø\u00a08\u00a0mm\u00a0(0.315\u00a0in)",
        ):
            assert " ".join(wrap(text, float(widest), 3.0, 12)).split(" ") == text.split(" ")
