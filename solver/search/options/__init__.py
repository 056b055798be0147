"""Options: what one link may be by the rules that look at it alone, and what a train's teeth then leave open.

In: a design and caps (`caps`). Out: the candidates between two rings (`candidates`), the families of structures that
leave room (`families`), and for a train whose wheels and pinions are chosen the best third gears (`thirds`), with
places and the drive (`choosing`), and what was learnt where there is none (`refusals`).

May import: design, search, search.place.
"""
