"""Sets of whole numbers as the bits of one Python integer: bit n stands for the number low + n."""

from __future__ import annotations

import numpy as np

_MANY, _STRIDE = 64, 61
_NARROW = 512  # bits up to which taking the lowest one off, again and again, is the fastest


def set_cells(bits: int) -> list[int]:
    """The numbers of the ones in a bit set, ascending."""
    if bits.bit_length() <= _NARROW:
        cells = []
        while bits:
            lowest = bits & -bits
            cells.append(lowest.bit_length() - 1)
            bits ^= lowest
        return cells
    raw = np.frombuffer(bits.to_bytes((bits.bit_length() + 7) // 8, "little"), np.uint8)
    filled = np.flatnonzero(raw)
    rows, columns = np.nonzero(np.unpackbits(raw[filled][:, None], axis=1, bitorder="little"))
    found: list[int] = (8 * filled[rows] + columns).tolist()
    return found


def dilated(bits: int, length: int) -> int:
    """All sums of a member and one of 0..length-1, by doubling."""
    reach = 1
    while reach < length:
        more = min(reach, length - reach)
        bits |= bits << more
        reach += more
    return bits


def sums(one: int, other: int, wanted: int = -1) -> int:
    """All sums of a member of one set and a member of the other; where all of `wanted` are found, some may lack."""
    if one.bit_count() > other.bit_count():
        one, other = other, one
    count = one.bit_count()
    if count == 0:
        return 0
    first = (one & -one).bit_length() - 1
    span = one.bit_length() - first
    if span == count:
        return dilated(other, count) << first
    cells, found = set_cells(one), 0
    if count > _MANY:
        cells = [cell for start in range(_STRIDE) for cell in cells[start::_STRIDE]]  # fills up early
    for index, cell in enumerate(cells):
        found |= other << cell
        if index % _MANY == _MANY - 1 and found & wanted == wanted:
            break
    return found


def mask(width: int) -> int:
    """The set of all numbers 0..width-1."""
    return (1 << width) - 1 if width > 0 else 0


def rows(table: np.ndarray) -> list[int]:
    """Each row of a table of truths as a bit set: bit n stands for column n."""
    packed = np.packbits(table, axis=1, bitorder="little")
    return [int.from_bytes(row.tobytes(), "little") for row in packed]
