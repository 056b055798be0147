"""What can be wrong with stored runs."""


class ClusterError(RuntimeError):
    """A cluster that cannot be used, or is lost; the message says why and what to do."""


class StoreError(RuntimeError):
    """A stored run that is missing, incomplete or damaged; the message names the file."""
