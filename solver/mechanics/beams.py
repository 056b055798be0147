"""Cantilevers of one section: how far the free end moves. Lengths [mm], forces [N], EI [N mm2]."""

from __future__ import annotations


def loaded_at(length: float, at: float, force: float, stiffness: float) -> float:
    """The free end under a force at a distance from the fixed one: P a2 (3 L - a) / (6 EI); P L3 / (3 EI) where it is
    at the end (any handbook)."""
    return force * at**2 * (3 * length - at) / (6 * stiffness)


def loaded_evenly(length: float, force: float, stiffness: float) -> float:
    """The free end under a force spread evenly over the length, as its own weight: W L3 / (8 EI) (any handbook)."""
    return force * length**3 / (8 * stiffness)
