"""How far the search goes before it goes about it another way: numbers that change its speed and never its answer."""

SCALES = (10**3, 10**4, 10**5, 10**6)  # units of a logarithm, coarsest first
FINE = 10_000  # units within a large error that make a finer scale not worth its wider sets
AT_ONCE = 100  # structures that take so long that something is to be shown before they are bounded
FEW = 500  # trains under caps that couple links that are listed whatever their error
GLANCE = 60  # trains that are listed before it is asked whether there are too many to list
LARGE = 2500  # choices of wheel and pinion that make a single family worth an early look
COUNTING = 10**8  # steps of counting the trains inside that are dearer than listing as many as may be
COUNT_LIMIT = 5000  # trains that are counted at a point of the front
LIST_LIMIT = 5000  # trains that the lattice lists before their error counts as crowded
MODEL_LIMIT = 1000  # likewise, where CP-SAT enumerates
BATCH = 200  # trains that are scored at once where any will do
SHARP = 20  # times the rounding, within the best error, make a scale fine enough for it
CLEAR = 20  # times the rounding, within the limit on the error, make it worth walking trains
LIST_PER_KEPT = 4  # neither limit is less than so many times the trains asked for
