"""The version, alone, so that building needs nothing else."""

VERSION = "0.1.0"
