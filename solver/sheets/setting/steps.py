"""What the maker does to bring the model to a date, in plain words, from the drive outwards."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from solver.design.design import Design
from solver.design.links import KIND_BY_NAME
from solver.design.train import Train
from solver.sheets.gears.gears import drive_name, ring_name
from solver.sheets.setting.dial import DialScale
from solver.sky.paths import rounded_turn
from solver.sky.setting import BodyByTeeth, LinkByTeeth, TeethSetting
from solver.words.numbers import decimal

_SEEN = Fraction(5, 1000)  # degrees: what is less is 0.00


@dataclass(frozen=True)
class SettingStep:
    """A step: its title, what is done in it, and what must then be seen, "" where nothing can be."""

    title: str
    work: tuple[str, ...]
    check: str


def setting_steps(design: Design, train: Train, setting: TeethSetting, scale: DialScale) -> Iterator[SettingStep]:
    """The drive, then each link outwards. What drives another ring than ring 0 would hold the rings that are turned by
    hand, so that it is out of mesh meanwhile."""
    bodies = {body.ring: body for body in setting.bodies}
    yield _drive(design, train, setting, bodies.get(0), scale)
    drive = None if train.placement is None else train.placement.drive
    held = drive is not None and drive.ring > 0 and any(move.lifted for move in setting.links)
    if drive is not None and held:
        ring, what = ring_name(design, train, drive.ring), drive_name(design)
        work = f"It drives {ring}, and would hold what is now turned by hand: take its pinion out of mesh."
        yield SettingStep(f"The {what} out of mesh", (work,), "")
    for move in setting.links:
        yield _link(design, train, move, bodies.get(move.link + 1), scale)
    if drive is not None and held:
        work = f"Put its pinion back into {ring}: any tooth will do."
        yield SettingStep(f"The {what} into mesh", (work,), "no pointer has moved")


def read_at(scale: DialScale, angle: Fraction) -> str:
    """ "123.4°": what the dial reads at an angle [turns from the right], to a tenth of a degree."""
    return f"{rounded_turn(scale.reading(float(angle * 360)), 1):.1f}°"


def side(turns: Fraction) -> str:
    """The way that a turn goes, seen from the front."""
    return "counterclockwise" if turns > 0 else "clockwise"


def signed(turns: Fraction) -> str:
    """ "+0.43°", "0" where that rounds to nothing."""
    return "0" if abs(turns) * 360 < _SEEN else f"{float(turns * 360):+.2f}°"


def degrees(turns: Fraction, decimals: int = 2) -> str:
    """An angle without its sign [degrees]."""
    return f"{decimal(abs(float(turns * 360)), decimals)}°"


def _drive(
    design: Design, train: Train, setting: TeethSetting, body: BodyByTeeth | None, scale: DialScale
) -> SettingStep:
    ring, what = ring_name(design, train, 0), "drive" if design.drive is None else drive_name(design)
    if body is None or body.clamped:
        return SettingStep(f"The {what}", (f"Leave {ring} where it is.",), _clamp(body, scale))
    if setting.drive == 0:
        return SettingStep(
            f"The {what}",
            (f"Leave {ring} where it is: it stands {'right' if body.left_over == 0 else 'as it should for all'}.",),
            _check(body, scale),
        )
    way = f"{side(setting.drive)} by {degrees(setting.drive)}"
    work = (f"Turn {ring} {way} by the {what}: all rings follow, each by its gears.",)
    return SettingStep(f"The {what}", work, _check(body, scale))


def _link(design: Design, train: Train, move: LinkByTeeth, body: BodyByTeeth | None, scale: DialScale) -> SettingStep:
    link, number = train.links[move.link], move.link
    inner, outer = (ring_name(design, train, number + more) for more in (0, 1))
    title = f"Link {number}: {inner} to {outer}"
    check = _check(body, scale) if body is not None and not body.clamped else _clamp(body, scale)
    if not move.lifted:
        return SettingStep(title, (f"Leave arbor {number} in mesh: {outer} has followed to its place.",), check)
    work = [f"Mark where {inner} stands, and hold it. Lift arbor {number} (wheel {link.wheel}, pinion {link.pinion})"]
    thirds = KIND_BY_NAME[link.kind].thirds
    if thirds:
        gears = " and ".join(map(str, link.thirds))
        work[0] += f" with its third gear{'s' if thirds > 1 else ''} ({gears}; a third gear may go back as it likes)"
    work[0] += " out of mesh."
    if move.wheel_teeth:
        way = side(Fraction(move.wheel_teeth))
        work.append(f"Turn the arbor {way} by {_teeth(abs(move.wheel_teeth))} of its wheel.")
    else:
        work.append("Do not turn the arbor.")
    teeth = move.ring_turn * train.rings[number + 1]
    if teeth:
        told = _teeth(abs(int(teeth))) if teeth.denominator == 1 else f"{decimal(abs(float(teeth)), 2)} teeth"
        work.append(f"Turn {outer} {side(teeth)} by {told} ({degrees(teeth / train.rings[number + 1])}).")
    work.append(f"Put the arbor back: wheel and pinion fall into mesh. What lies beyond {outer} follows it.")
    return SettingStep(title, tuple(work), check)


def _teeth(count: int) -> str:
    return "1 tooth" if count == 1 else f"{count} teeth"


def _check(body: BodyByTeeth, scale: DialScale) -> str:
    stands = read_at(scale, body.stands)
    told = f"the pointer of {body.name} stands at {stands}"
    if body.left_over == 0:
        return told
    if abs(body.left_over) * 360 < _SEEN:
        return f"{told}, its place to a hundredth of a degree"
    past = "counterclockwise" if body.left_over > 0 else "clockwise"
    return f"{told}, which is {degrees(body.left_over)} {past} of its place, {read_at(scale, body.wanted)}"


def _clamp(body: BodyByTeeth | None, scale: DialScale) -> str:
    if body is None:
        return ""
    return f"{body.name} is clamped to its ring where its pointer stands at {read_at(scale, body.wanted)}"
