"""Prove: the CP-SAT model of a design's teeth, and of teeth and places, from the rules in `constraints` alone.

In: a design, or a structure of it, caps, and a window of what is known already. Out: all trains, or the least value of
a rank key, proven (`model`); with places, for all trains that have the same rings (`placed`), or some of them where
they are too many (`with_places`). Loads ortools, so it is imported where it is needed.

May import: constraints, design, search, search.options, search.place.
"""
