"""The judge: whether a train keeps every rule of its design, in exact arithmetic and without any code of the search;
and the audit of trains that exist.

In: a design and a train. Out: a verdict, or what an audit finds.

May import: design.
"""
