"""Mechanics: sections, metals, and how far rods and rings bend, by formulas of handbooks.

In: lengths in mm, forces in N, moduli in MPa (N/mm2). Out: deflections in mm. Nothing of designs or gears is known here.

May import: nothing.
"""
