"""A drawing as DXF, 1:1: the file's unit is the millimetre, and every kind of thing has its own layer."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

from solver.sheets.draw.drawing import Arc, Circle, Drawing, Line, Polyline, Shape
from solver.sheets.draw.layers import LAYERS
from solver.sheets.draw.lettering import CAP_HEIGHT, clean
from solver.sheets.errors import MissingExtra

if TYPE_CHECKING:
    from ezdxf.layouts.layout import Modelspace

_MILLIMETRES, _METRIC = 4, 1  # $INSUNITS and $MEASUREMENT
# Line weights [0.01 mm] that the format knows (DXF reference, group code 370).
_WEIGHTS = (0, 5, 9, 13, 15, 18, 20, 25, 30, 35, 40, 50, 53, 60, 70, 80, 90, 100)


def dxf(drawing: Drawing) -> str:
    """The drawing as a DXF document (release 2010); the same drawing gives the same bytes.

    Circles, arcs and lines are that in the file too, closed polylines are closed, and areas that are filled on paper
    are outlines; what has none is left out. Raises MissingExtra without ezdxf.
    """
    try:
        from ezdxf._options import options
        from ezdxf.filemanagement import new
    except ModuleNotFoundError:
        raise MissingExtra("ezdxf") from None
    fixed = options.write_fixed_meta_data_for_testing
    options.write_fixed_meta_data_for_testing = True  # dates and identifiers that are always the same
    try:
        document = new("R2010", units=_MILLIMETRES)
        document.header["$MEASUREMENT"] = _METRIC
        for layer, shapes in drawing.by_layer():
            style = LAYERS[layer]
            if not style.width:
                continue
            entry = document.layers.add(layer, color=style.colour)
            entry.dxf.lineweight = min(_WEIGHTS, key=lambda weight: abs(weight - 100 * style.width))
            if style.dashes:
                document.linetypes.add(f"{layer}-line", _pattern(style.dashes))
                entry.dxf.linetype = f"{layer}-line"
            for shape in shapes:
                _add(document.modelspace(), shape)
        if drawing.shapes:
            left, bottom, right, top = drawing.box
            document.header["$EXTMIN"], document.header["$EXTMAX"] = (left, bottom, 0.0), (right, top, 0.0)
            document.set_modelspace_vport(
                1.1 * max(right - left, top - bottom), ((left + right) / 2, (bottom + top) / 2)
            )
        # ezdxf keeps its required classes in sets, so their order would differ from process to process.
        document.classes.add_required_classes(document.dxfversion)
        document.classes.classes = dict(sorted(document.classes.classes.items()))
        stream = io.StringIO()
        document.write(stream)
    finally:
        options.write_fixed_meta_data_for_testing = fixed
    return stream.getvalue()


def _pattern(dashes: tuple[float, ...]) -> list[float]:
    """The length of the pattern, then pen down (+) and pen up (-) in turn."""
    return [sum(dashes), *(long if number % 2 == 0 else -long for number, long in enumerate(dashes))]


def _add(space: Modelspace, shape: Shape) -> None:
    on = {"layer": shape.layer}
    if isinstance(shape, Circle):
        space.add_circle(shape.at, shape.radius, dxfattribs=on)
    elif isinstance(shape, Line):
        space.add_line(shape.start, shape.end, dxfattribs=on)
    elif isinstance(shape, Arc):
        space.add_arc(shape.at, shape.radius, shape.start_deg % 360, shape.end_deg % 360, dxfattribs=on)
    elif isinstance(shape, Polyline):
        space.add_lwpolyline(shape.points, close=shape.closed, dxfattribs=on)
    else:
        from ezdxf.enums import TextEntityAlignment as Align

        align = {"start": Align.LEFT, "middle": Align.CENTER, "end": Align.RIGHT}[shape.anchor]
        # "%%" and "^" begin codes in the text of a DXF file.
        text = clean(shape.text).replace("%%", "% %").replace("^", "^ ")
        space.add_text(text, height=CAP_HEIGHT * shape.size, dxfattribs=on).set_placement(shape.at, align=align)
