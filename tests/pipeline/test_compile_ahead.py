"""The list of kernels that a second process compiles on the very first run."""

import importlib
import inspect
import os
import subprocess
import sys
from pathlib import Path

import pytest
from numba.core import sigutils
from numba.core.registry import CPUDispatcher

from gridmap.pipeline import compile_ahead

ROOT = Path(__file__).parents[2]


def test_every_kernel_listed_exists_and_takes_what_is_listed() -> None:
    """A kernel that was renamed or given another argument must not stay on the list unseen."""
    rows = compile_ahead.kernel_list()
    assert len(rows) == len(set(rows)) > 20
    for module, name, kinds in rows:
        kernel = getattr(importlib.import_module(module), name)
        assert isinstance(kernel, CPUDispatcher)
        arguments, _ = sigutils.normalize_signature(kinds)
        assert len(arguments) == len(inspect.signature(kernel.py_func).parameters), (module, name)


def test_second_process_starts_once_and_ends_with_the_job(monkeypatch: pytest.MonkeyPatch) -> None:
    """A job leaves no process behind, and one that compiles nothing starts none."""
    started = []

    class Process:
        def __init__(self, command: list[str], **_: object) -> None:
            started.append(self)
            self.ended = False

        def terminate(self) -> None:
            self.ended = True

        def wait(self) -> None:
            assert self.ended

    monkeypatch.setattr(compile_ahead.subprocess, "Popen", Process)
    monkeypatch.setattr(compile_ahead.os, "cpu_count", lambda: 2)
    with compile_ahead.compiled_ahead():
        pass
    assert not started
    import numba

    with compile_ahead.compiled_ahead():
        numba.njit(lambda x: x + 1)(1)
        numba.njit(lambda x: x + 2)(1)
    assert len(started) == 1
    assert started[0].ended


@pytest.mark.slow
def test_list_is_what_the_demo_compiles(tmp_path: Path) -> None:
    """The list is made from a run; where kernels change, scripts/make_kernel_list.py writes it anew."""
    found = tmp_path / "kernels.txt"
    subprocess.run(
        [sys.executable, ROOT / "scripts" / "make_kernel_list.py", found],
        check=True,
        env={**os.environ, "PYTHONPATH": str(ROOT), "NUMBA_CACHE_DIR": str(tmp_path / "empty")},
    )
    listed = set((ROOT / "gridmap" / "pipeline" / compile_ahead.LIST).read_text().split("\n"))
    assert set(found.read_text().split("\n")) == listed
