from __future__ import annotations

import tracemalloc
from contextlib import suppress
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from gridmap.errors import ReadError
from gridmap.model import Line
from gridmap.read import describe, read_line, read_segy

QUIET = settings(max_examples=300, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
HEADER_BYTES = [
    *range(3212, 3232),
    *range(3268, 3300),
    *range(3500, 3536),
    *range(3600, 3840),
    *range(4080, 4320),
]


def check(path: Path, content: bytes) -> None:
    """Any bytes give a line or a ReadError of one line, within memory that the length of the file bounds."""
    path.write_bytes(content)
    tracemalloc.start()
    try:
        line = read_segy(path)
        assert isinstance(line, Line)
        assert np.isfinite(line.traces).all()
        assert line.sample_interval_ns > 0
    except ReadError as problem:
        assert "\n" not in str(problem)
        assert path.name in str(problem)
    finally:
        peak = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
    assert peak < 12 * len(content) + 2_000_000
    for act in (read_line, describe):
        with suppress(ReadError):
            act(path)


@pytest.fixture
def whole(make) -> list[bytes]:
    """Sound files of several kinds, as bytes."""
    samples = np.arange(160.0).reshape(4, 40)
    kinds = [
        {"code": 5},
        {"code": 1, "order": "<"},
        {"code": 3, "revision": b"\0\0"},
        {"code": 6, "revision": b"\2\0", "extra": 1},
        {"code": 8, "texts": 1, "order": "<"},
        {"code": 2, "revision": b"\2\1", "order": "<"},
    ]
    return [make(samples, interval=1000, **kind).read_bytes() for kind in kinds]


@QUIET
@given(st.data())
def test_mutated_headers(whole: list[bytes], tmp_path: Path, data: st.DataObject) -> None:
    """Header bytes changed at random never crash the reader."""
    content = bytearray(data.draw(st.sampled_from(whole)))
    for _ in range(data.draw(st.integers(1, 6))):
        content[data.draw(st.sampled_from(HEADER_BYTES)) % len(content)] = data.draw(st.integers(0, 255))
    check(tmp_path / "m.sgy", bytes(content))


@QUIET
@given(st.data())
def test_cut_and_grown_files(whole: list[bytes], tmp_path: Path, data: st.DataObject) -> None:
    """Files cut anywhere, or with anything behind them, never crash the reader."""
    content = data.draw(st.sampled_from(whole))
    cut = content[: data.draw(st.integers(0, len(content)))] + data.draw(st.binary(max_size=300))
    check(tmp_path / "m.sgy", cut)


@QUIET
@given(
    st.binary(max_size=600),
    st.integers(0, 4200),
    st.sampled_from([b"\0\1", b"\0\5", b"\5\0", b"\0\3", b"\x77\x77"]),
)
def test_arbitrary_bytes(tmp_path: Path, noise: bytes, size: int, code: bytes) -> None:
    """Bytes that are no SEG-Y at all, some with a format code that exists, never crash the reader."""
    content = bytearray((noise * (size // max(len(noise), 1) + 1))[:size] if noise else bytes(size))
    if len(content) > 3226:
        content[3224:3226] = code
    check(tmp_path / "m.sgy", bytes(content))
