"""A drawing as DXF, 1:1: the file's unit is the millimetre, and every kind of thing has its own layer."""

from __future__ import annotations

import io

from solver.sheets.draw.drawing import Drawing
from solver.sheets.draw.dxf_shapes import entity
from solver.sheets.draw.layers import LAYERS
from solver.sheets.errors import MissingExtra

_MILLIMETRES, _METRIC = 4, 1  # $INSUNITS and $MEASUREMENT
# Line weights [0.01 mm] that the format knows (DXF reference, group code 370).
_WEIGHTS = (0, 5, 9, 13, 15, 18, 20, 25, 30, 35, 40, 50, 53, 60, 70, 80, 90, 100)

_BEGIN, _END = "  2\nENTITIES\n", "  0\nENDSEC\n"
_EMPTY = _BEGIN + _END


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
        owner, drawn = document.modelspace().layout_key, []
        for layer, shapes in drawing.by_layer():
            style = LAYERS[layer]
            if not style.width:
                continue
            entry = document.layers.add(layer, color=style.colour)
            entry.dxf.lineweight = min(_WEIGHTS, key=lambda weight: abs(weight - 100 * style.width))
            if style.dashes:
                document.linetypes.add(f"{layer}-line", _pattern(style.dashes))
                entry.dxf.linetype = f"{layer}-line"
            drawn += [entity(shape, document.entitydb.next_handle(), owner) for shape in shapes]
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
    before, after = stream.getvalue().split(_EMPTY)
    return "".join((before, _BEGIN, *drawn, _END, after))


def _pattern(dashes: tuple[float, ...]) -> list[float]:
    """The length of the pattern, then pen down (+) and pen up (-) in turn."""
    return [sum(dashes), *(long if number % 2 == 0 else -long for number, long in enumerate(dashes))]
