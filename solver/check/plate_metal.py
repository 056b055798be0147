"""What is left of a gear cut from plate between its bore, its hub and its roots, for the judge."""

from __future__ import annotations

from solver.check.gear_lengths import GearLengths


def too_little_metal(made: GearLengths, teeth: int, ring: bool, root_mm: float) -> str:
    """Why a gear with roots so far from its middle cannot be made: less metal than half the plate's thickness (common
    practice, no source), or teeth under the hub."""
    bore = made.module * teeth / 2 - made.rim if ring else made.arbor / 2
    name = f"the ring of {teeth} teeth" if ring else f"the gear of {teeth} teeth"
    if root_mm - bore < made.sheet / 2 and root_mm - bore < made.sheet - 1e-9:
        cure = "a larger rings.rim" if ring else "a smaller wire.arbor_diameter"
        return f"{name} has too little metal between bore and roots; take {cure}, or thinner wire.sheet"
    if not ring and made.hub / 2 > root_mm + 1e-9:
        return f"{name} has roots within its hub; take a smaller wire.hub_diameter, or more teeth"
    return ""
