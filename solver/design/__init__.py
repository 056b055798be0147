"""The nouns, and exact arithmetic on them: the design, trains, link kinds, gauges, ratios and lengths.

In: numbers that have been read. Out: frozen objects, Fractions, errors that say what is wrong with a design.

May import: words.
"""
