"""Small sound line files of every format, written from the published layouts: what tests and fuzzing start from."""

from __future__ import annotations

import io
import struct
from pathlib import Path

import numpy as np
from scipy.io import netcdf_file

from gridmap.read.segy_write import write_segy

WAVES = np.round(np.sin(0.5 * np.arange(24)) * 100) + np.arange(6)[:, None] ** 2
"""(trace, sample)"""


def sound(kind: str, folder: Path) -> list[bytes]:
    """Give sound files of one kind, "segy", "seg2", "text" or "arrays", that hold `WAVES` every 0.4 ns."""
    if kind == "segy":
        return [_segy(folder / "y", code, order) for code, order in ((1, ">"), (3, "<"), (5, ">"))]
    if kind == "seg2":
        return [
            write_seg2(
                folder / "s", WAVES, code=code, order=order, each={1: ("DELAY 1e-9", "NOTE x")}
            ).read_bytes()
            for code, order in ((1, "<"), (2, ">"), (4, "<"), (5, ">"))
        ]
    if kind == "text":
        rows = "\n".join(",".join(f"{cell:g}" for cell in row) for row in WAVES.T)
        head = "# by hand\ntime_ns,0,1,2,3,4,5\n"
        timed = "\n".join(f"{0.4 * k:.1f},{row}" for k, row in enumerate(rows.split("\n")))
        return [rows.encode(), (head + timed).encode(), (head + timed).encode("utf-16")]
    out = []
    for save, keys in ((np.savez, {"time_ns": 0.4 * np.arange(24)}), (np.savez_compressed, {"dt": 0.4})):
        stream = io.BytesIO()
        save(stream, a=WAVES, **keys)
        out.append(stream.getvalue())
    stream = io.BytesIO()
    np.save(stream, WAVES.astype(np.float32))
    with netcdf_file(folder / "n", "w") as file:
        for name, size in (("k", None), ("t", 24)):
            file.createDimension(name, size)
        file.createVariable("a", "f4", ("k", "t"))[0:6] = WAVES
        time = file.createVariable("t", "f8", ("t",))
        time[:] = 0.4 * np.arange(24)
        time.units = "ns"
    return [*out, stream.getvalue(), (folder / "n").read_bytes()]


def _segy(path: Path, code: int, order: str) -> bytes:
    write_segy(path, WAVES.astype(np.float32), sample_interval_ps=400, sample_format=code, byte_order=order)
    return path.read_bytes()


def strings(order: str, words: list[str]) -> bytes:
    """Lay out strings: offset to the next, text, a zero byte; a zero offset ends them."""
    out = b""
    for word in words:
        raw = word.encode("latin-1") + b"\0"
        out += struct.pack(order + "H", len(raw) + 2) + raw
    return out + struct.pack(order + "H", 0)


def write_seg2(
    path: Path,
    samples: np.ndarray,
    *,
    code: int = 2,
    order: str = "<",
    file: tuple[str, ...] = (),
    trace: tuple[str, ...] = ("SAMPLE_INTERVAL 2E-10",),
    each: dict[int, tuple[str, ...]] | None = None,
    raw: bytes | None = None,
) -> Path:
    """Write a SEG-2 file of the samples (trace, sample); `raw` overrules the stored bytes of every trace."""
    count = len(samples)
    head = strings(order, list(file))
    kind = {1: "i2", 2: "i4", 4: "f4", 5: "f8"}.get(code)
    blocks = []
    for k in range(count):
        words = strings(order, [*trace, *(each or {}).get(k, ())])
        words += bytes(-len(words) % 4)
        data = raw if raw is not None else samples[k].astype(order + str(kind)).tobytes()
        blocks.append(
            struct.pack(order + "HHIIB19x", 0x4422, 32 + len(words), len(data), samples.shape[1], code)
            + words
            + data
        )
    start = 32 + 4 * count + len(head)
    offsets = start + np.cumsum([0] + [len(block) for block in blocks[:-1]])
    descriptor = (
        struct.pack(order + "4H", 0x3A55, 1, 4 * count, count) + bytes((1, 0, 0, 1, 10, 0)) + bytes(18)
    )
    path.write_bytes(descriptor + offsets.astype(order + "u4").tobytes() + head + b"".join(blocks))
    return path
