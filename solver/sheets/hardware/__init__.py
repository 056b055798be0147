"""Parts that are bought: ball bearings, screws with their heads, nuts, washers and clearance holes, from tables.

In: data files, a line for each part with its source. Out: the registry, and what of it goes with a post.

May import: nothing.
"""
