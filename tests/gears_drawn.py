"""What the tests of tooth forms share: the lengths of wire and rings, a gear to be drawn, one of its figures."""

from __future__ import annotations

from solver import parse_design
from solver.forms.form import Sizes, Spec, ToothedGear, sizes_of


def sizes(text: str = "", rings: str = "tooth_pitch = 12\naddendum = 4\nrim = 6") -> Sizes:
    return sizes_of(parse_design(f'[bodies]\nset = "saturn"\n[rings]\n{rings}\n[wire]\n{text}'))


def spec(kind: str, teeth: int, toothing: str, *mates: int) -> Spec:
    return Spec(kind, teeth, toothing, mates)


def figure(shape: ToothedGear, what: str) -> float:
    return next(one.value for one in shape.figures if one.what == what)
