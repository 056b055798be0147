"""Mechanics: sections, metals, and how far rods and rings bend, by formulas of handbooks.

In: lengths in mm, forces in N, moduli in MPa (N/mm2). Out: deflections in mm. Nothing is known here of designs or
gears.

May import: nothing.
"""
