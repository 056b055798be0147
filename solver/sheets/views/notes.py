"""The notes on a sheet: heading, table of rings and links, legend and scale bars."""

from __future__ import annotations

from math import atan2, degrees, floor, log10

from solver.design.design import MM_PER_INCH
from solver.design.train import LinkPlace, Spot
from solver.sheets.draw.svg import BODY, HEAD, POST, TEXT, TITLE, Pen, Point, decimal, shorten, text_width, wrap
from solver.sheets.views.page import MARGIN, Block, Sheet
from solver.sheets.views.parts import Model

_ROW, _LEGEND_ROW = 3.1, 3.5
_HEADS = ("ring", "body", "teeth", "sense", "link", "direction", "x", "y", "wheel", "pinion", "third")
_LEFT_ALIGNED = (1, 3)


def notes(model: Model, widest: float) -> list[Block]:
    """All but the heading; widest: what a body's name may take."""
    return [_table(model, widest), _legend(model), _bars(model)]


def heading(pen: Pen, model: Model, sheet: Sheet) -> None:
    """The title, and under it the scale and the lengths that hold everywhere."""
    x, y = sheet.corner[0] + MARGIN, sheet.corner[1] + MARGIN
    for number, line in enumerate(sheet.title):
        pen.text((x, y + 2.4 + 5.6 * number), line, TITLE, "start", bold=True)
    rings, fit, frame = model.design.rings, model.fit, model.fit.frame
    pitch = float(rings.pitch.value)
    told = [
        f"Scale {decimal(1 / pen.scale, 6)} : 1" if pen.scale < 1 else f"Scale 1 : {decimal(pen.scale, 6)}",
        "lengths in inches" if model.design.units == "in" else "lengths in mm",
        f"module {model.length(pitch)}" if rings.pitch.is_module else f"tooth pitch {model.length(pitch)}",
        f"addendum {model.length(model.addendum)}",
        f"rim {model.length(model.rim)}",
        f"levels {model.length(model.spacing)} apart" + ("" if sheet.depth.true else " (not drawn to scale)"),
    ]
    if frame is not None:
        sizes = [frame.width] if frame.shape != "rectangle" else [frame.width, frame.height]
        size = " × ".join(model.length(float(one)) for one in sizes)
        deep = "" if frame.depth is None else f", {model.length(float(frame.depth))} deep"
        told.append(f"{frame.shape} frame {size}{deep}" + (" (too large to be drawn)" if model.frame is None else ""))
    if fit.rollers is not None:
        told.append(f"rollers of radius {model.length(model.roller)}")
    y += 5.6 * len(sheet.title) + 1.2
    for number, line in enumerate(wrap(" · ".join(told), sheet.size[0] - 2 * MARGIN, TEXT, 2)):
        pen.text((x, y + 3.1 * number), line, anchor="start")


def _table(model: Model, widest: float) -> Block:
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
        told = f"motor, {decimal(float(drive.rpm), 3)} rpm"
        spot = place(drive.at.arbor, float(drive.at.direction))
        rows.append((str(drive.ring), told, "", "", "M", *spot, "", str(drive.pinion), ""))
        thirds(drive.thirds, drive.at)
    widths = [max(map(text_width, column)) + 2.2 for column in zip(_HEADS, *rows, strict=True)]

    def draw(pen: Pen, corner: Point, first: int, last: int) -> None:
        x, y = corner
        right = x + sum(widths)
        pen.text((x, y + 1.5), f"Rings and links [{model.design.units}]", HEAD, "start", bold=True)
        for number, row in enumerate((_HEADS, *rows[first:last])):
            middle, edge = y + 5.2 + number * _ROW, x
            for column, (cell, width) in enumerate(zip(row, widths, strict=True)):
                start, anchor = (edge + 1.1, "start") if column in _LEFT_ALIGNED else (edge + width - 1.1, "end")
                pen.text((start, middle), cell, anchor=anchor)
                edge += width
        for under in (1, last - first + 1):
            level = y + 5.2 + (under - 0.5) * _ROW
            pen.line((x, level), (right, level), "thin")

    return Block(sum(widths), 5.2 + 0.5 * _ROW + 0.2, _ROW, len(rows), draw)


def _legend(model: Model) -> Block:
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
        ("arrow", "dot", "sense: as ring 0, counterclockwise", True),
        ("arrow", "open", "sense: reverse", any(model.reverse)),
        ("line", "arbor", "arbor or shaft, in the side view", True),
        ("line", "post", "post to the plate, in the side view", model.fit.plate != "none"),
        ("rect", "section", "ring or plate, cut", True),
    ]
    texts = [
        f"0: {shorten(model.bodies.get(0, ''), 12)} {model.train.rings[0]}: ring 0, its body, its teeth",
        f"{model.gear_text(model.gears[0])}: link 0 (ring 0 to 1), teeth of wheel/pinion",
        *(f"{model.gear_text(gear)}: motor, teeth of its pinion, speed" for gear in motors),
        "side view: links above and below the axis in turn",
        "x to the right, y upwards from the main axis,",
        "directions counterclockwise from the right",
    ]
    shown = [line[:3] for line in lines if line[3]] + [("", "", text) for text in texts]

    def draw(pen: Pen, corner: Point, first: int, last: int) -> None:
        x, y = corner
        pen.text((x, y + 1.5), "Legend", HEAD, "start", bold=True)
        for number, (shape, style, text) in enumerate(shown[first:last]):
            middle = y + 5.6 + number * _LEGEND_ROW
            if shape:
                _swatch(pen, (x + 5, middle), shape, style)
            pen.text((x + 12 if shape else x, middle), text, anchor="start")

    width = max(text_width(text) + (12 if shape else 0) for shape, _, text in shown)
    return Block(width, 3.8, _LEGEND_ROW, len(shown), draw, True)


def _swatch(pen: Pen, at: Point, shape: str, style: str) -> None:
    x, y = at
    if shape == "circle":
        pen.circle(at, 1.5, style)
    elif shape == "ring":
        pen.rect((x - 5, y - 1, x + 5, y + 1), "odd")
        for edge in (y - 1, y + 1):
            pen.line((x - 5, edge), (x + 5, edge), style)
    elif shape == "rect":
        pen.rect((x - 5, y - 1, x + 5, y + 1), style)
    elif shape in ("post", "body"):
        pen.circle(at, BODY if shape == "body" else POST, style)
    elif shape == "arrow":
        pen.line((x - 4, y), (x + 3, y), "arrow")
        pen.arrow_head((x + 4, y), 0, style)
    else:
        pen.line((x - 5, y), (x + 5, y), style)


def _bars(model: Model) -> Block:
    """The scale bar in millimetres, and one in inches for a design in inches."""
    units = [("mm", 1.0), *([("in", float(MM_PER_INCH))] if model.design.units == "in" else [])]

    def draw(pen: Pen, corner: Point, first: int, last: int) -> None:
        for number, (unit, length) in enumerate(units[first:last]):
            x, y = corner[0], corner[1] + 9 * number
            most = 48 * pen.scale / length
            step = 10.0 ** floor(log10(most))
            whole = step * next(factor for factor in (5, 2, 1) if factor * step <= most)
            long = whole * length / pen.scale
            for part in range(5):
                box = (x + part * long / 5, y, x + (part + 1) * long / 5, y + 1.5)
                pen.rect(box, "dot" if part % 2 == 0 else "white")
            pen.rect((x, y, x + long, y + 1.5), "rule", part="scale", mm=decimal(whole * length, 12))
            pen.text((x, y + 3.6), "0")
            pen.text((x + long, y + 3.6), f"{decimal(whole, 12)} {unit}")

    return Block(52, 0, 9, len(units), draw)
