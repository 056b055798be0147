"""Cantilevers of one section: how far the free end moves. Lengths [mm], forces [N], EI [N mm2]."""

from __future__ import annotations


def loaded_at(length: float, at: float, force: float, stiffness: float) -> float:
    """The free end under a force at a distance from the fixed one: P a2 (3 L - a) / (6 EI); P L3 / (3 EI) where it is
    at the end (any handbook)."""
    return force * at**2 * (3 * length - at) / (6 * stiffness)


def joined(length: float, at: float, tee: float, own: float, carried: float, stiffness: float) -> tuple[float, float]:
    """How far two cantilevers go that are joined: the free end of one, and that of another so long, `tee`, which begins
    square on the first at a distance from its fixed end. own, carried: the forces on both ends. What is carried bends
    the first by its force and by its moment, and the other goes and turns with the place where it begins; all this
    adds up, whichever way the forces pull. By superposition of P a3 / 3, P a2 (3 L - a) / 6, M a2 / 2 and M a (2 L - a)
    / 2, with slopes P (2 L a - a2) / 2, P a2 / 2 and M a, over EI (any handbook)."""
    moment = carried * tee
    end = loaded_at(length, length, own, stiffness) + loaded_at(length, at, carried, stiffness)
    end += moment * at * (2 * length - at) / (2 * stiffness)
    gone = own * at**2 * (3 * length - at) / 6 + carried * at**3 / 3 + moment * at**2 / 2
    slope = own * at * (2 * length - at) / 2 + carried * at**2 / 2 + moment * at
    return end, (gone + slope * tee + carried * tee**3 / 3) / stiffness


def loaded_evenly(length: float, force: float, stiffness: float) -> float:
    """The free end under a force spread evenly over the length, as its own weight: W L3 / (8 EI) (any handbook)."""
    return force * length**3 / (8 * stiffness)
