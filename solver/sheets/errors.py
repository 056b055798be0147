"""What can be wrong where sheets are made."""


class SheetsError(RuntimeError):
    """Sheets that cannot be made or written; the message is one line that says why and what helps."""


class MissingExtra(SheetsError):
    """A library of the extra `sheets` is not installed."""

    def __init__(self, library: str) -> None:
        super().__init__(f"{library} is not installed; sheets need it: pip install 'ringwright[sheets]'")
