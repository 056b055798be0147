"""The form for the usual case: which fields of the design file it has, how they are asked for, and what stands there
at first. The page's script makes the design from them; each field is named by its path in the file."""

from __future__ import annotations

from dataclasses import dataclass

from solver.files import starting
from solver.files.body_sets import BodySet, body_sets

NUMBER, SPAN, TEXT = "number", "span", "text"
SPANS = "Teeth, steps and blanks: a number, a list “18, 24”, or a span “18 to 60 step 6”."


@dataclass(frozen=True)
class Field:
    """A field: its path, label, the kind of what is typed in it, what stands there at first, and a hint. choices:
    (value, word) where one is chosen. only_if: (path, values) of the field that decides whether this one counts.
    length: its unit is that of the design."""

    path: str
    label: str
    kind: str
    value: str = ""
    hint: str = ""
    choices: tuple[tuple[str, str], ...] = ()
    only_if: tuple[str, str] | None = None
    length: bool = False


@dataclass(frozen=True)
class Group:
    """Fields under one heading; note: what holds for those of them in which spans can be typed."""

    name: str
    title: str
    fields: tuple[Field, ...]
    note: str = ""


def _span(span: tuple[int, int]) -> str:
    return f"{span[0]} to {span[1]}"


_MM = starting.LENGTHS["mm"]
_BENT, _CUT = "saw curved", "cycloidal involute"  # forms of teeth, of wire and of plate
_WIRES = {"loop": "Wire of loops", "tooth": "Wire of teeth", "pin": "Wire of pins"}
_GAUGE = "a gauge, as AWG 14 or SWG 16, or a diameter"
GROUPS = (
    Group(
        "rings",
        "Rings",
        (
            Field("rings.inner_teeth", "Teeth of the innermost ring", SPAN, _span(starting.INNER_TEETH)),
            Field("rings.tooth_step", "Tooth step from ring to ring", SPAN, _span(starting.TOOTH_STEP)),
            Field("rings.blanks", "Blank rings", SPAN, _span(starting.BLANKS), "rings without a body"),
            Field("rings.tooth_pitch", "Tooth pitch", NUMBER, _MM["pitch"], "along the pitch circle", length=True),
            Field(
                "rings.addendum",
                "Addendum",
                NUMBER,
                _MM["addendum"],
                "from the pitch circle out to the tip",
                length=True,
            ),
            Field("rings.rim", "Rim", NUMBER, _MM["rim"], "from the pitch circle in to the hole", length=True),
            Field(
                "rings.level_spacing", "Level spacing", NUMBER, _MM["spacing"], "from one ring to the next", length=True
            ),
        ),
        SPANS,
    ),
    Group(
        "arbors",
        "Arbors",
        (
            Field("arbors.wheel_teeth", "Wheel teeth", SPAN, _span(starting.GEAR_TEETH)),
            Field("arbors.pinion_teeth", "Pinion teeth", SPAN, _span(starting.GEAR_TEETH)),
            Field("arbors.third_gears", "Third gears at most", NUMBER, "0", "in the whole train"),
            Field(
                "arbors.third_teeth",
                "Third gear teeth",
                SPAN,
                _span(starting.THIRD_TEETH),
                "counts where third gears are allowed",
            ),
        ),
        "Teeth: a number, a list or a span, as for rings.",
    ),
    Group(
        "fit",
        "Fit",
        (
            Field(
                "fit.frame.shape",
                "Frame",
                TEXT,
                "square",
                choices=(("", "no limit"), ("square", "square"), ("rectangle", "rectangle"), ("round", "round")),
            ),
            Field("fit.frame.side", "Side", NUMBER, _MM["side"], only_if=("fit.frame.shape", "square"), length=True),
            Field(
                "fit.frame.width", "Width", NUMBER, _MM["side"], only_if=("fit.frame.shape", "rectangle"), length=True
            ),
            Field(
                "fit.frame.height", "Height", NUMBER, _MM["side"], only_if=("fit.frame.shape", "rectangle"), length=True
            ),
            Field(
                "fit.frame.diameter", "Diameter", NUMBER, _MM["side"], only_if=("fit.frame.shape", "round"), length=True
            ),
            Field(
                "fit.frame.depth",
                "Depth",
                NUMBER,
                "",
                "empty: no limit",
                only_if=("fit.frame.shape", "square rectangle round"),
                length=True,
            ),
            Field(
                "fit.clearance",
                "Clearance",
                NUMBER,
                _MM["clearance"],
                "between what is not meant to touch",
                length=True,
            ),
            Field(
                "fit.directions",
                "Directions",
                NUMBER,
                "24",
                "so many, equally spaced, in which an arbor may stand; “none” chooses no places",
            ),
        ),
    ),
    Group(
        "wire",
        "Wire",
        (
            Field(
                "wire.form",
                "Tooth form",
                TEXT,
                "saw",
                choices=(
                    ("", "none: gears are plain discs"),
                    ("saw", "saw: bent wire, with pin gears"),
                    ("curved", "curved: bent wire, more even"),
                    ("cycloidal", "cycloidal: cut from plate"),
                    ("involute", "involute: cut from plate"),
                ),
            ),
            Field(
                "fit.unevenness",
                "Unevenness",
                NUMBER,
                starting.UNEVENNESS,
                "the share of a pitch that a mesh may stray from even turning",
                only_if=("wire.form", f"{_BENT} {_CUT}"),
            ),
            *(
                Field(f"wire.{name}", _WIRES[name], NUMBER, gauge, _GAUGE, only_if=("wire.form", _BENT))
                for name, gauge in starting.GAUGES
            ),
            Field(
                "wire.jig_pin",
                "Jig pin",
                NUMBER,
                _MM["jig"],
                "diameter of what teeth are bent around",
                only_if=("wire.form", _BENT),
                length=True,
            ),
            Field(
                "wire.sheet", "Plate", NUMBER, _MM["sheet"], "its thickness", only_if=("wire.form", _CUT), length=True
            ),
        ),
    ),
    Group(
        "search",
        "Search",
        (
            Field("search.max_error_pct", "Greatest error allowed, %", NUMBER, str(starting.MAX_ERROR_PCT)),
            Field("search.keep", "Solutions to keep", NUMBER, str(starting.KEEP)),
            Field(
                "search.time_limit_s",
                "Time limit, s",
                NUMBER,
                str(starting.TIME_LIMIT_S),
                "a limit makes the answer less sure, not wrong",
            ),
        ),
    ),
)

SET = "saturn"


def sets() -> tuple[BodySet, ...]:
    """The body sets to choose from."""
    return tuple(body_sets().values())
