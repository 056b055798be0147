"""What can be wrong with stored runs."""


class StoreError(RuntimeError):
    """A stored run that is missing, incomplete or damaged; the message names the file."""
