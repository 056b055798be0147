"""The answer: what leaves the program, and the audit of a train that exists.

In: a design, or a train and its design. Out: the document of an answer (`document`), by a search whose every solution
is judged (`solve`, `solution`), with what CP-SAT says of it (`prove`); the report of an audit (`audit`).

May import: check, design, files, search, search.options, search.order, search.place, search.prove.
"""
