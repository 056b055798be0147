"""Order: the first trains by any rank keys, and the Pareto front, by searches by error under caps.

In: a design, a stop rule. Out: `search.SearchResult`. From the top: one design's search (`search`), its front
(`front`), the recursion from key to key (`lexicographic`), one search by error (`engine`) with its bounds
(`bounding`), how far the error must be raised (`ladder`), lists (`listing`, by CP-SAT `modelled`), from lists to the
best (`score`), what is asked (`question`), what all share (`shared`), and numbers that change the speed alone
(`effort`).

May import: design, search, search.options, search.place, search.prove, search.reach.
"""
