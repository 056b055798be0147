"""Metals as data: modulus of elasticity, density, Poisson's ratio, and where each is from."""

from __future__ import annotations

from dataclasses import dataclass

GRAVITY = 9.80665  # m/s2, standard gravity (ISO 80000-3)


@dataclass(frozen=True)
class Metal:
    """name; modulus of elasticity [MPa]; density [g/cm3]; Poisson's ratio; source."""

    name: str
    modulus: float
    density: float
    poisson: float
    source: str


METALS: dict[str, Metal] = {
    metal.name: metal
    for metal in (
        Metal(
            "brass", 110_000.0, 8.53, 0.34,
            "C260: 16e6 psi, .308 lb/in3; CuZn37 110 GPa, 8.44 (mill data sheets); Poisson's ratio from memory",
        ),
        Metal(
            "free-cutting brass", 97_000.0, 8.47, 0.34,
            "CZ121: 14e6 psi, .306 lb/in3 (mill data sheet); Poisson's ratio from memory",
        ),
        Metal(
            "bronze", 110_000.0, 8.86, 0.34,
            "phosphor bronze C510: 16e6 psi, .320 lb/in3 (mill data sheet); Poisson's ratio from memory",
        ),
        Metal(
            "steel", 200_000.0, 7.85, 0.30,
            "carbon steel: 29e6 psi, 7.85 to 7.87 (materials tables; structural steel 77 to 78.5 kN/m3, EN 1991-1-1, "
            "table A.4, from memory); Poisson's ratio from memory",
        ),
    )
}  # fmt: skip


def newtons(grams: float) -> float:
    """The weight [N] of so many grams."""
    return grams * GRAVITY / 1000
