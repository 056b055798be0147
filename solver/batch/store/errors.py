"""What can be wrong with stored runs."""


class Busy(RuntimeError):
    """Another runner holds the run; the message says who and since when."""


class ClusterError(RuntimeError):
    """A cluster that cannot be used, or is lost; the message says why and what to do."""


class StoreError(RuntimeError):
    """A stored run that is missing, incomplete or damaged; the message names the file. Each argument is a line."""

    def __str__(self) -> str:
        return "\n".join(map(str, self.args))
