"""Reach: dynamic programming on bit sets over the logarithms of the periods.

In: a family of structures, candidates, a scale. Out: the least possible error within rounding and what is reachable at
an error (`lattice`), every train inside (`walks`), how many there are or with how few teeth (`counting`), the exact
values of errors in a narrow strip (`border`). Made of: all links between two bodies (`segment`, kept by `segments`),
one link's step and sets of sums (`sums`), values carried over them (`folds`), nodes and arcs (`nodes`).

May import: design, search, search.options.
"""
