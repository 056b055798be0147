"""The registry of tooth forms: a new form is a module here and a line below, and touches nothing else."""

from solver.sheets.forms.cycloidal import Cycloidal
from solver.sheets.forms.form import Form
from solver.sheets.forms.involute import Involute
from solver.sheets.forms.saw import Saw

_ALL: tuple[Form, ...] = (Saw(), Cycloidal(), Involute())

FORMS: dict[str, Form] = {form.name: form for form in _ALL}
