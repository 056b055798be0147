"""Tooth forms: how a gear of so many teeth is made, and the registry of all of them.

In: a design's lengths, and gears by their teeth and partners. Out: outlines, holes of jigs, pieces of wire, and how a
pair runs. A new form is a module here and a line below, and touches nothing else.

May import: design, words.
"""

from solver.forms.curved import Curved
from solver.forms.cycloidal import Cycloidal
from solver.forms.form import Form
from solver.forms.involute import Involute
from solver.forms.saw import Saw

_ALL: tuple[Form, ...] = (Saw(), Curved(), Cycloidal(), Involute())

FORMS: dict[str, Form] = {form.name: form for form in _ALL}
