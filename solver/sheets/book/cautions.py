"""Cautions, each for the pages where the work is. Usual practice; local codes and the makers' own sheets go first."""

from __future__ import annotations

from dataclasses import dataclass

PARTS, CUTS, TEMPLATES, PLACEMENT, ORDER = "parts list", "cut list", "templates", "placement", "build order"
PAGES = (PARTS, CUTS, TEMPLATES, PLACEMENT, ORDER)
FIRST = (
    "These cautions are usual practice. Local codes, the makers' data sheets of every material and tool, and the "
    "advice of a licensed trade go first."
)
WALL_FACTOR = 7
WALL_SOURCE = "a rigging manual: 6 times the load is common, many take 7, 10 is named"


@dataclass(frozen=True)
class Caution:
    """What can hurt, what to do about it, the pages it belongs to, and where a figure in it comes from."""

    topic: str
    text: str
    pages: tuple[str, ...]
    source: str = "common practice, no source"


_ALWAYS = (
    Caution(
        "Torch and hot metal",
        "Clear the bench of what burns, work on a fire-proof board, keep an extinguisher at hand and stay for half "
        "an hour after the last flame. Quench or mark hot work: brass does not look hot. Eye protection, no "
        "synthetic clothes.",
        (TEMPLATES, ORDER),
    ),
    Caution(
        "Solder and flux fume",
        "Solder under extraction that leads outdoors, or in moving fresh air that carries the fume away from your "
        "face; an open window alone is not ventilation. Fluoride fluxes hurt lungs and skin: read the flux maker's "
        "sheet.",
        (TEMPLATES, ORDER),
    ),
    Caution(
        "Filler free of cadmium and lead",
        "Soft solder: choose one that is marked free of lead; tin with 3 to 4 % silver flows at about 220 °C and "
        "bears no less than tin with lead. Silver solder: choose one that is marked free of cadmium; these flow at "
        "about 620 to 710 °C. Old silver solder can hold cadmium, whose fume is poisonous: the permissible exposure "
        "is 5 µg/m³ of air over 8 hours. Do not use filler of unknown make.",
        (PARTS, TEMPLATES, ORDER),
        "29 CFR 1910.1027 for the limit; flow range of cadmium-free silver brazing alloys: makers' data sheets; of tin "
        "with silver and its strength from memory",
    ),
    Caution(
        "Pickling",
        "Wear goggles and gloves, pour acid into water and never water into acid, keep the bath covered and "
        "ventilated, never drop hot work into it, and rinse well. Hand spent pickle in as hazardous waste: it holds"
        " copper.",
        (ORDER,),
    ),
    Caution(
        "Blasting and grinding dust",
        "Never blast with silica sand: its dust destroys lungs. Use abrasives with less than 1 % free silica, in a "
        "closed cabinet, with a respirator that suits the dust.",
        (ORDER,),
        "check of the abrasive's data sheet: less than 1 % free silica",
    ),
    Caution(
        "Saw, lathe and drill",
        "No gloves, no loose sleeves, jewellery or hair at a lathe or drill. Chuck key out before the switch. Clamp"
        " small pieces; short wire flies from the saw: wear eye protection, and file every end.",
        (CUTS, PLACEMENT),
    ),
)

_MOTOR = Caution(
    "Mains and motor",
    "Run the motor from a listed (certified) low-voltage supply with a fuse, never from bare mains. Whatever is "
    "fixed to the building's wiring is for a licensed electrician. Switch off and unplug before you reach in.",
    (PARTS, PLACEMENT, ORDER),
)
_PINCH = Caution(
    "Pinch points",
    "Rings and small gears draw in fingers, hair and cords, also slowly, and a gear train does not feel it. Guard a"
    " model that people can reach, and keep a switch within reach of whoever works on it.",
    (PLACEMENT, ORDER),
)


def cautions_of(grams: float, motor: bool, hung: bool = True, framed: bool = False) -> tuple[Caution, ...]:
    """All cautions for a model of which so much is weighed [g], with or without a motor, hung or on a table.
    framed: whether frame and arms are weighed with it."""
    what = "What the sheets weigh, bodies and motor with it," if motor else "What the sheets weigh, bodies with it,"
    left = "screws and counterweights come" if framed else "plate, frame, screws and counterweights come"
    hanging = Caution(
        "Weight on a wall",
        f"{what} is {grams / 1000:.2f} kg; {left} on top. "
        "Fix a hanging model to the structure behind the plaster, never to plasterboard alone, with fixings that "
        f"bear {WALL_FACTOR} times the weight of all of it before they fail, at two points or more.",
        (PARTS, PLACEMENT, ORDER),
        WALL_SOURCE,
    )
    return (*_ALWAYS, *((_MOTOR,) if motor else ()), _PINCH, *((hanging,) if hung else ()))


def cautions_for(page: str, cautions: tuple[Caution, ...]) -> tuple[Caution, ...]:
    """The cautions that belong to a page, one of PAGES. Raises ValueError for another."""
    if page not in PAGES:
        raise ValueError(f"no page {page!r}; the pages are {', '.join(PAGES)}")
    return tuple(caution for caution in cautions if page in caution.pages)
