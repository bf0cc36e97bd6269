"""`python -m gridmap`."""

from gridmap.cli.main import run

run()
