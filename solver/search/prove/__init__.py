"""Prove: the CP-SAT model of one structure's teeth, from the rules in `constraints` alone.

In: a structure, candidates, caps, and a window of what is known already. Out: all trains, or the least value of a rank
key, proven (`model`); logarithms that depend on the exact ratio alone (`logs`). Loads ortools, so it is imported where
it is needed.

May import: constraints, design, search, search.options.
"""
