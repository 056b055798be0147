"""Drawings in millimetres on named layers, where labels stand on them, and plots.

In: shapes. Out: the same drawing as SVG, PDF or DXF, on pages or over several. Knows nothing of gears; imports `words`
and the sheets' `errors`.

May import: sheets, words.
"""
