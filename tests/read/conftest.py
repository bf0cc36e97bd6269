"""SEG-Y files built from the standard's byte numbers, independent of gridmap's tables and writer."""

from __future__ import annotations

import struct
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

SHARED = Path(__file__).parents[2] / "../shared"
NUMPY_KIND = {2: "i4", 3: "i2", 5: "f4", 6: "f8", 8: "i1", 10: "u4", 11: "u2", 16: "u1"}


def build(
    path: Path,
    samples: np.ndarray,
    *,
    code: int = 5,
    order: str = ">",
    revision: bytes = b"\x01\x00",
    interval: int = 200,
    texts: int = 0,
    extra: int = 0,
    file: dict[int, tuple[str, object]] | None = None,
    trace: dict[int, tuple[str, object]] | None = None,
    tail: bytes = b"",
    text: bytes = b"",
) -> Path:
    """Write a SEG-Y file; `file`, `trace` overrule fields: first byte -> (struct kind, value or values)."""
    count, length = samples.shape
    head = bytearray(text.ljust(3200, " ".encode("cp037")) + bytes(400))

    def put(where: bytearray, byte: int, kind: str, value: object) -> None:
        struct.pack_into(order + kind, where, byte - 1, value)

    for byte, kind, value in (
        (3217, "h", interval),
        (3221, "H", length % 65536),
        (3225, "h", code),
        (3505, "h", texts),
    ):
        put(head, byte, kind, value)
    head[3500:3502] = revision
    if extra:
        put(head, 3507, "H", extra)
    for byte, (kind, value) in (file or {}).items():
        put(head, byte, kind, value)
    out = bytes(head) + " ".encode("cp037") * 3200 * max(texts, 0)
    raw = samples.astype(order + ("u4" if code == 1 else NUMPY_KIND[code]))
    for k in range(count):
        one = bytearray(240 * (1 + extra))
        put(one, 1, "i", k + 1)
        put(one, 115, "H", length % 65536)
        put(one, 117, "h", interval)
        for byte, (kind, value) in (trace or {}).items():
            put(one, byte, kind, value if np.isscalar(value) else value[k])  # type: ignore[index]
        out += bytes(one) + raw[k].tobytes()
    path.write_bytes(out + tail)
    return path


@pytest.fixture
def make(tmp_path: Path) -> Callable[..., Path]:
    """Build a file under `tmp_path` from samples (default 6 traces of 200) and header overrules."""

    def _make(samples: np.ndarray | None = None, name: str = "L01.sgy", **keys: object) -> Path:
        if samples is None:
            samples = np.arange(1200, dtype=np.float64).reshape(6, 200) % 100
        return build(tmp_path / name, samples, **keys)  # type: ignore[arg-type]

    return _make


def _folder(*parts: str) -> Path:
    folder = SHARED.joinpath(*parts)
    if not folder.is_dir():
        pytest.skip(f"{'/'.join(parts)} is not beside this repository")
    return folder


@pytest.fixture
def outside() -> Path:
    """Folder of SEG-Y files made by others."""
    return _folder("outside", "segy")


@pytest.fixture
def surveys() -> Path:
    """Folder of simulated surveys."""
    return _folder("surveys")
