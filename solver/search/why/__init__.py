"""Why: the smallest set of a file's limits that cannot be met together, and the least loosening that is enough.

In: a design file's data. Out: an `explanation` (`explain`); `asking` answers its questions. Limits as edits of a file:
`knob` (one of them), `knobs` (all of a file), from `gear_knobs`, `fit_knobs` and `limit_knobs`.

May import: design, files, search, search.options, search.order.
"""
