"""The very first job: a second process compiles the kernels of the last stages while the first stages run.

Compiled kernels are kept on disk (numba's cache), so this happens once for an installation. The list of kernels is in
`kernels.txt`, in the order in which a job needs them; the second process goes through it from its end, so that the two
meet once and compile little twice. Nothing depends on it but time.
"""

from __future__ import annotations

import importlib
import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from importlib.resources import files

from numba.core import event, sigutils

LIST = "kernels.txt"


def kernel_list() -> list[tuple[str, str, str]]:
    """Return module, function and types of arguments of every kernel of a usual job, in the order of need."""
    text = files("gridmap.pipeline").joinpath(LIST).read_text(encoding="utf-8")
    rows = (line.split(" ", 2) for line in text.splitlines() if line)
    return [(module, function, kinds) for module, function, kinds in rows]


class _Starter(event.Listener):  # type: ignore[misc]
    """Starts the second process when the first kernel is compiled rather than read."""

    def __init__(self) -> None:
        self.helper: subprocess.Popen[bytes] | None = None

    def on_start(self, event: object) -> None:
        """Start the second process, once."""
        if self.helper is None:
            self.helper = subprocess.Popen(
                [sys.executable, "-m", "gridmap.pipeline.compile_ahead"],
                stdin=subprocess.DEVNULL,
                stdout=subprocess.DEVNULL,
                stderr=subprocess.DEVNULL,
            )

    def on_end(self, event: object) -> None:
        """Do nothing."""


@contextmanager
def compiled_ahead() -> Iterator[None]:
    """Have kernels of later stages compiled by a second process, if this job has to compile any at all."""
    starter = _Starter()
    if (os.cpu_count() or 1) < 2:
        yield
        return
    with event.install_listener("numba:compile", starter):
        try:
            yield
        finally:
            if starter.helper is not None:
                starter.helper.terminate()  # a kernel is written whole or not at all
                starter.helper.wait()


def compile_all() -> None:
    """Compile what is not on disk yet, from the end of the list; ends when the process that started it has."""
    parent = os.getppid()
    for module, function, kinds in reversed(kernel_list()):
        if os.getppid() != parent:
            return
        arguments, _ = sigutils.normalize_signature(kinds)
        getattr(importlib.import_module(module), function).compile(arguments)


if __name__ == "__main__":
    compile_all()
