"""Any bytes give a line or an error of ours, in memory that the length of the file bounds: SEG-2, text, arrays."""

from __future__ import annotations

import tracemalloc
from contextlib import suppress
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from benchmarks.line_files import WAVES, sound
from gridmap.errors import ReadError
from gridmap.read import Reader, as_table, describe, read_line
from gridmap.read.sniff import READERS

QUIET = settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
BY_NAME: dict[str, Reader] = {"seg2": READERS[0], "arrays": READERS[1], "text": READERS[2]}


def check(path: Path, content: bytes, reader: Reader) -> None:
    """Read and describe; only ReadError on one line that begins with the file's name may come."""
    path.write_bytes(content)
    tracemalloc.start()
    try:
        line = reader.read(path, name=None, sample_interval_ns=None)
        assert np.isfinite(line.traces).all()
        assert line.traces.ndim == 2
        assert line.traces.dtype == np.float32
        assert 0 < line.sample_interval_ns < 1e5
        if line.header_xy is not None:
            assert line.header_xy.shape == (len(line.traces), 2)
    except ReadError as problem:
        assert "\n" not in str(problem)
        assert str(problem).startswith(f"{path.name}:")
    finally:
        peak = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
    assert peak < 400 * len(content) + 4_000_000
    for act in (reader.describe, describe):
        with suppress(ReadError):
            as_table([act(path)])
    with suppress(ReadError):
        read_line(path, sample_interval_ns=0.5)


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> dict[str, list[bytes]]:
    folder = tmp_path_factory.mktemp("sound")
    return {kind: sound(kind, folder) for kind in BY_NAME}


def test_sound_files_are_read(files: dict[str, list[bytes]], tmp_path: Path) -> None:
    """What is damaged below is right before."""
    for kind, contents in files.items():
        for content in contents:
            (tmp_path / "a").write_bytes(content)
            np.testing.assert_array_equal(
                BY_NAME[kind].read(tmp_path / "a", name="a", sample_interval_ns=0.4).traces, WAVES
            )


@pytest.mark.parametrize("kind", BY_NAME)
@QUIET
@given(st.data())
def test_mutated_files(files: dict[str, list[bytes]], tmp_path: Path, kind: str, data: st.DataObject) -> None:
    """Bytes changed at random, most of them near the start, never crash a reader."""
    content = bytearray(data.draw(st.sampled_from(files[kind])))
    end = min(len(content), data.draw(st.sampled_from([60, 200, 100_000])))
    for _ in range(data.draw(st.integers(1, 6))):
        content[data.draw(st.integers(0, end - 1))] = data.draw(st.integers(0, 255))
    check(tmp_path / "m", bytes(content), BY_NAME[kind])


@pytest.mark.parametrize("kind", BY_NAME)
@QUIET
@given(st.data())
def test_cut_and_grown_files(
    files: dict[str, list[bytes]], tmp_path: Path, kind: str, data: st.DataObject
) -> None:
    """Files cut anywhere, or with anything behind them, never crash a reader."""
    content = data.draw(st.sampled_from(files[kind]))
    cut = content[: data.draw(st.integers(0, len(content)))] + data.draw(st.binary(max_size=200))
    check(tmp_path / "m", cut, BY_NAME[kind])


@pytest.mark.parametrize("kind", BY_NAME)
@QUIET
@given(st.one_of(st.binary(max_size=300), st.text(max_size=200).map(str.encode)))
def test_arbitrary_bytes(tmp_path: Path, kind: str, content: bytes) -> None:
    """Anything at all never crashes a reader, with or without the right first bytes."""
    marks = {"seg2": b"\x55\x3a\x01\x00", "text": b"", "arrays": b"\x93NUMPY\x01\x00"}
    for head in {b"", marks[kind]}:
        check(tmp_path / "m", head + content, BY_NAME[kind])


@QUIET
@given(st.lists(st.text("0123456789.,;+-eE \t\r\nnaif#%xµ", max_size=40), max_size=12))
def test_almost_numbers(tmp_path: Path, rows: list[str]) -> None:
    """Text made of what numbers are made of never crashes the reader."""
    check(tmp_path / "m", "\n".join(rows).encode(), BY_NAME["text"])
