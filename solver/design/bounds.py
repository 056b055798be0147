"""How large a design may be: least and greatest counts, which its file must keep and the search may rely on."""

LEAST_TEETH, MOST_TEETH = 3, 1000
MOST_BODIES, MOST_RINGS = 100, 120
MOST_CHOICES = 1000
MOST_DIRECTIONS, MOST_MOTORS = 360, 50
LEAST_ROLLERS, MOST_ROLLERS = 3, 24
MOST_STOCK = 20
