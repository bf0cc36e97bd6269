"""The blocks of a SEG-2 file: descriptors, trace pointers and strings, held against the length of the file.

Source: S. E. Pullan, "Recommended standard for seismic (/radar) data files in the personal computer
environment", Geophysics 55 (1990) 1260-1271. A file descriptor block (id 0x3A55, whose byte order is that of
the file) is followed by pointers to traces and by strings; each trace is a descriptor block (id 0x4422) with
strings, then samples.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass
from typing import Literal

from gridmap.errors import ReadError

FILE_ID, TRACE_ID = 0x3A55, 0x4422
DESCRIPTOR_BYTES = 32
ByteOrder = Literal["<", ">"]
Strings = dict[str, str]

SAMPLE_BITS = {1: 16, 2: 32, 3: 20, 4: 32, 5: 64}
FORMAT_WORDS = {
    1: "16-bit integer",
    2: "32-bit integer",
    3: "20-bit packed float",
    4: "32-bit IEEE float",
    5: "64-bit IEEE float",
}
_DAMAGED = "The file is damaged or cut short: copy or export it again."


@dataclass(frozen=True, slots=True)
class TraceBlock:
    """One trace: its strings, and where its samples lie (bytes from the start of the file)."""

    strings: Strings
    first_byte: int
    bytes: int
    samples: int
    code: int


@dataclass(frozen=True, slots=True)
class Blocks:
    """A whole file: byte order, revision, strings of the file, and its traces in the order of their pointers."""

    order: ByteOrder
    revision: int
    strings: Strings
    traces: tuple[TraceBlock, ...]


def looks_like_seg2(head: bytes) -> bool:
    """Say whether a file starts with a SEG-2 descriptor: its id, and sizes that agree with each other.

    The id alone will not do: its two bytes are the letters "U:".
    """
    if len(head) < DESCRIPTOR_BYTES or head[:2] not in (b"\x55\x3a", b"\x3a\x55"):
        return False
    _, pointer_bytes, traces = struct.unpack_from(_order(head) + "3H", head, 2)
    return pointer_bytes >= 4 * traces and head[8] in (1, 2) and head[11] <= 2


def read_blocks(data: bytes, source: str) -> Blocks:
    """Read all descriptors and strings of a file; samples are only located.

    Parameters
    ----------
    data : bytes
        The whole file.
    source : str
        The file, as a message names it.

    Raises
    ------
    ReadError
        If a block is not where its pointer says, traces overlap or reach beyond the end of the file, or
        samples are stored in a way that the standard does not have.
    """
    if not looks_like_seg2(data[:DESCRIPTOR_BYTES]):
        raise ReadError(f"{source}: does not start with a SEG-2 file descriptor. {_DAMAGED}")
    order = _order(data)
    revision, pointer_bytes, count = struct.unpack_from(order + "3H", data, 2)
    strings_at = DESCRIPTOR_BYTES + pointer_bytes
    if count == 0:
        raise ReadError(f"{source}: the file descriptor says that there are no traces. Copy the file again.")
    if strings_at > len(data):
        raise ReadError(
            f"{source}: ends inside the list of its {count} traces ({len(data)} bytes). {_DAMAGED}"
        )
    pointers = struct.unpack_from(f"{order}{count}I", data, DESCRIPTOR_BYTES)
    mark = data[9 : 9 + data[8]]
    traces: list[TraceBlock] = []
    room = len(data)
    for trace, pointer in enumerate(pointers, 1):
        block = _trace_block(data, pointer, order, mark, f"{source}: trace {trace}")
        room -= block.first_byte - pointer + block.bytes
        if room < 0:
            raise ReadError(f"{source}: trace {trace} shares its bytes with another trace. {_DAMAGED}")
        traces.append(block)
    end = min((pointer for pointer in pointers if pointer >= strings_at), default=len(data))
    return Blocks(order, revision, _strings(data[strings_at:end], order, mark), tuple(traces))


def stored_bytes(samples: int, code: int) -> int:
    """Give the bytes that samples take; code 3 packs four of them into ten bytes, a last group is filled up."""
    return -(-samples // 4) * 10 if code == 3 else samples * SAMPLE_BITS[code] // 8


def _order(data: bytes) -> ByteOrder:
    return "<" if data[:2] == b"\x55\x3a" else ">"


def _trace_block(data: bytes, pointer: int, order: ByteOrder, mark: bytes, where: str) -> TraceBlock:
    if pointer < DESCRIPTOR_BYTES or pointer + DESCRIPTOR_BYTES > len(data):
        raise ReadError(f"{where} is said to start at byte {pointer}, which is outside the file. {_DAMAGED}")
    block_id, block_bytes, data_bytes, samples, code = struct.unpack_from(order + "HHIIB", data, pointer)
    if block_id != TRACE_ID:
        raise ReadError(
            f"{where}: no trace descriptor at byte {pointer} (found 0x{block_id:04X}, not 0x4422). {_DAMAGED}"
        )
    if code not in SAMPLE_BITS:
        raise ReadError(
            f"{where}: data format code {code} does not exist (1 to 5 do). Re-export the file with 32-bit "
            "samples."
        )
    size, first = stored_bytes(samples, code), pointer + block_bytes
    if block_bytes < DESCRIPTOR_BYTES or first + size > len(data):
        raise ReadError(
            f"{where}: {samples} samples promised, {size} bytes from byte {first}, but the file has "
            f"{len(data)}. " + _DAMAGED
        )
    if data_bytes < size:
        raise ReadError(
            f"{where}: {samples} samples need {size} bytes, but its data block is said to have {data_bytes}. "
            + _DAMAGED
        )
    strings = _strings(data[pointer + DESCRIPTOR_BYTES : first], order, mark)
    return TraceBlock(strings, first, size, samples, code)


def _strings(raw: bytes, order: ByteOrder, mark: bytes) -> Strings:
    """Read strings "KEYWORD value": each begins with the offset of the next, 0 ends them; the first of a key counts."""
    found: Strings = {}
    at = 0
    while at + 2 < len(raw):
        (step,) = struct.unpack_from(order + "H", raw, at)
        if step < 3:
            break
        text = raw[at + 2 : at + step].split(mark, 1)[0].decode("latin-1")
        words = text.replace("\0", " ").split(None, 1)
        if words:
            found.setdefault(words[0].upper(), words[1].strip() if len(words) > 1 else "")
        at += step
    return found
