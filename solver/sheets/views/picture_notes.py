"""The notes on a sheet: heading, table of rings and links, legend and scale bars."""

from __future__ import annotations

from math import atan2, degrees, floor, log10

from solver.design.train import LinkPlace, Spot
from solver.sheets.draw.drawing import Circle, Line, Point, Shape, Text
from solver.sheets.draw.lettering import HEAD, TEXT, TITLE, shorten, text_width, wrap
from solver.sheets.draw.marks import arrow_head, hatching, lettered, rect
from solver.sheets.views.edge_on import BODY
from solver.sheets.views.model import Model
from solver.sheets.views.picture_front import POST
from solver.sheets.views.picture_page import MARGIN, Notes, PicturePage
from solver.words.lengths import MM_PER_INCH
from solver.words.numbers import decimal

_ROW, _LEGEND_ROW = 3.1, 3.5
_HEADS = ("ring", "body", "teeth", "sense", "link", "direction", "x", "y", "wheel", "pinion", "third")
_LEFT_ALIGNED = (1, 3)


def notes(model: Model, widest: float) -> list[Notes]:
    """All but the heading; widest: what a body's name may take."""
    return [_table(model, widest), _legend(model), _bars(model)]


def heading(model: Model, page: PicturePage) -> list[Shape]:
    """The title, and under it the scale and the lengths that hold everywhere."""
    x, y, scale = MARGIN, page.size[1] - MARGIN, page.scale
    shapes: list[Shape] = [
        lettered((x, y - 2.4 - 5.6 * number), line, TITLE, bold=True) for number, line in enumerate(page.title)
    ]
    rings, fit, frame = model.design.rings, model.fit, model.fit.frame
    pitch = float(rings.pitch.value)
    told = [
        f"Scale {decimal(1 / scale, 6)} : 1" if scale < 1 else f"Scale 1 : {decimal(scale, 6)}",
        "lengths in inches" if model.design.units == "in" else "lengths in mm",
        f"module {model.length(pitch)}" if rings.pitch.is_module else f"tooth pitch {model.length(pitch)}",
        f"addendum {model.length(model.addendum)}",
        f"rim {model.length(model.rim)}",
        f"levels {model.length(model.spacing)} apart" + ("" if page.depth.true else " (not drawn to scale)"),
    ]
    if frame is not None:
        sizes = [frame.width] if frame.shape != "rectangle" else [frame.width, frame.height]
        size = " × ".join(model.length(float(one)) for one in sizes)
        deep = "" if frame.depth is None else f", {model.length(float(frame.depth))} deep"
        told.append(f"{frame.shape} frame {size}{deep}" + (" (too large to be drawn)" if model.frame is None else ""))
    if fit.rollers is not None:
        told.append(f"rollers of radius {model.length(model.roller)}")
    y -= 5.6 * len(page.title) + 1.2
    lines = wrap(" · ".join(told), page.size[0] - 2 * MARGIN, TEXT, 2)
    return [*shapes, *(lettered((x, y - 3.1 * number), line) for number, line in enumerate(lines))]


def _table(model: Model, widest: float) -> Notes:
    """A row for each ring and the link from it to the next, one for each third gear, and the drive's."""
    rows: list[tuple[str, ...]] = []

    def place(spot: Spot, direction: float) -> tuple[str, str, str]:
        return decimal(direction, 1), *model.spot(spot)

    def thirds(teeth: tuple[int, ...], at: LinkPlace) -> None:
        for one, spot in zip(teeth, at.thirds, strict=True):
            turned = degrees(atan2(spot[1], spot[0])) % 360
            rows.append(("", "", "", "", "third", *place(spot, turned), "", "", str(one)))

    for ring, teeth in enumerate(model.train.rings):
        name = shorten(model.bodies.get(ring, "–"), widest)
        own = (str(ring), name, str(teeth), "reverse" if model.reverse[ring] else "same")
        if ring == model.count - 1:
            rows.append((*own, *[""] * 7))
            continue
        link, at = model.train.links[ring], model.placement.links[ring]
        rows.append((*own, f"L{ring}", *place(at.arbor, float(at.direction)), str(link.wheel), str(link.pinion), ""))
        thirds(link.thirds, at)
    drive = model.placement.drive
    if drive is not None:
        told = f"{'crank' if model.design.cranked else 'motor'}, {decimal(float(drive.rpm), 3)} rpm"
        spot = place(drive.at.arbor, float(drive.at.direction))
        rows.append((str(drive.ring), told, "", "", "M", *spot, "", str(drive.pinion), ""))
        thirds(drive.thirds, drive.at)
    widths = [max(map(text_width, column)) + 2.2 for column in zip(_HEADS, *rows, strict=True)]

    def draw(corner: Point, first: int, last: int, scale: float) -> list[Shape]:
        x, y = corner
        shapes: list[Shape] = [lettered((x, y - 1.5), f"Rings and links [{model.design.units}]", HEAD, bold=True)]
        for number, row in enumerate((_HEADS, *rows[first:last])):
            middle, edge = y - 5.2 - number * _ROW, x
            for column, (cell, width) in enumerate(zip(row, widths, strict=True)):
                start, anchor = (edge + 1.1, "start") if column in _LEFT_ALIGNED else (edge + width - 1.1, "end")
                shapes.append(lettered((start, middle), cell, anchor=anchor))
                edge += width
        for under in (1, last - first + 1):
            level = y - 5.2 - (under - 0.5) * _ROW
            shapes.append(Line((x, level), (x + sum(widths), level), "leader"))
        return [shape for shape in shapes if not isinstance(shape, Text) or shape.text]

    return Notes(sum(widths), 5.2 + 0.5 * _ROW + 0.2, _ROW, len(rows), draw)


def _legend(model: Model) -> Notes:
    """What the lines and labels mean, as far as they occur."""
    motors = [gear for gear in model.gears if gear.style == "motor"]
    lines = [
        ("line", "pitch", "pitch circle", True),
        ("circle", "wheel", "wheel, on the level of the inner ring", True),
        ("circle", "pinion", "pinion, on the level of the outer ring", True),
        ("circle", "third", "third gear, with its teeth", any(gear.style == "third" for gear in model.gears)),
        ("circle", "motor", "motor pinion", bool(motors)),
        ("ring", "ring", "ring, from its inner edge to its tips", True),
        ("circle", "roller", "roller", any(model.placement.rollers)),
        ("post", "dot", "post: arbor, third gear, motor or roller", True),
        ("body", "dot", "body on its ring; blank rings have none", True),
        ("arrow", "same", "sense: as ring 0, counterclockwise", True),
        ("arrow", "reverse", "sense: reverse", any(model.reverse)),
        ("line", "arbor", "arbor or shaft, in the side view", True),
        ("line", "post", "post to the plate, in the side view", model.fit.plate != "none"),
        ("line", "arm-behind", "arms and the frame's bars", model.design.armed),
        ("rect", "section", "ring or plate, cut", True),
    ]
    texts = [
        f"0: {shorten(model.bodies.get(0, ''), 12)} {model.train.rings[0]}: ring 0, its body, its teeth",
        f"{model.gear_text(model.gears[0])}: link 0 (ring 0 to 1), teeth of wheel/pinion",
        *(
            f"{model.gear_text(gear)}: {'crank' if model.design.cranked else 'motor'}, teeth of its pinion, speed"
            for gear in motors
        ),
        "side view: links above and below the axis in turn",
        "x to the right, y upwards from the main axis,",
        "directions counterclockwise from the right",
    ]
    shown = [line[:3] for line in lines if line[3]] + [("", "", text) for text in texts]

    def draw(corner: Point, first: int, last: int, scale: float) -> list[Shape]:
        x, y = corner
        shapes: list[Shape] = [lettered((x, y - 1.5), "Legend", HEAD, bold=True)]
        for number, (kind, layer, text) in enumerate(shown[first:last]):
            middle = y - 5.6 - number * _LEGEND_ROW
            shapes += _swatch((x + 5, middle), kind, layer) if kind else []
            shapes.append(lettered((x + 12 if kind else x, middle), text))
        return shapes

    width = max(text_width(text) + (12 if shape else 0) for shape, _, text in shown)
    return Notes(width, 3.8, _LEGEND_ROW, len(shown), draw, True)


def _swatch(at: Point, kind: str, layer: str) -> list[Shape]:
    x, y = at
    box = x - 5, y - 1, x + 5, y + 1
    if kind == "circle":
        return [Circle(at, 1.5, layer), *hatching(layer, at, 1.5)]
    if kind == "ring":
        edges = [Line((x - 5, edge), (x + 5, edge), layer) for edge in (y - 1, y + 1)]
        return [rect(box, "odd", 0.0), *edges]
    if kind == "rect":
        return [rect(box, layer), *hatching(layer, at, 5.1, (5.0, 1.0))]
    if kind in ("post", "body"):
        return [Circle(at, BODY if kind == "body" else POST, layer, 0.0)]
    if kind == "arrow":
        shaft = Line((x - 4, y), (x + 3, y), "sense")
        return [shaft, arrow_head((x + 4, y), 0.0, "sense-head", 1.0 if layer == "reverse" else 0.0)]
    return [Line((x - 5, y), (x + 5, y), layer)]


def _bars(model: Model) -> Notes:
    """The scale bar in millimetres, and one in inches for a design in inches."""
    units = [("mm", 1.0), *([("in", float(MM_PER_INCH))] if model.design.units == "in" else [])]

    def draw(corner: Point, first: int, last: int, scale: float) -> list[Shape]:
        shapes: list[Shape] = []
        for number, (unit, length) in enumerate(units[first:last]):
            x, y = corner[0], corner[1] - 9 * number
            most = 48 * scale / length
            step = 10.0 ** floor(log10(most))
            whole = step * next(factor for factor in (5, 2, 1) if factor * step <= most)
            long = whole * length / scale
            told = ("part", "scale"), ("mm", decimal(whole * length, 12))
            shapes.append(rect((x, y - 1.5, x + long, y), "rule", facts=told))
            for part in (0, 2, 4):
                shapes.append(rect((x + part * long / 5, y - 1.5, x + (part + 1) * long / 5, y), "scale-bar", 0.0))
            shapes.append(lettered((x, y - 3.6), "0", anchor="middle"))
            shapes.append(lettered((x + long, y - 3.6), f"{decimal(whole, 12)} {unit}", anchor="middle"))
        return shapes

    return Notes(52, 0, 9, len(units), draw)
