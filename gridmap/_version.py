"""The version, alone in a module so that building and `--version` import nothing else."""

VERSION = "0.1.0"
