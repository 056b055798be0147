"""The registry of tooth forms: a new form is a module here and a line below, and touches nothing else."""

from solver.forms.cycloidal import Cycloidal
from solver.forms.form import Form
from solver.forms.involute import Involute
from solver.forms.saw import Saw

_ALL: tuple[Form, ...] = (Saw(), Cycloidal(), Involute())

FORMS: dict[str, Form] = {form.name: form for form in _ALL}
