"""The search: from a design to its first trains in rank order, with the proof that there are no better ones.

Here: what all of it uses: bit sets (`bits`), stop rules (`stop`), running CP-SAT (`solves`), the order of solutions
(`rank`), what rounding can do (`rounding`), which gears run as made (`runs`). The packages, from the bottom to the top;
each may import those before it, `solver.design` and `constraints`:

    place    where one train's parts can stand
    options  what one link may be
    reach    what the errors leave of a family of structures: bounds and lists
    prove    the CP-SAT model of a train's teeth
    order    rank keys and fronts: the search itself; its door is `order.search`
    why      why nothing fits, and the least loosening that does; alone it reads files (`solver.files`)

May import: design, forms, mechanics.
"""
