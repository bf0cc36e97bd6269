"""Write a line as SEG-Y revision 1: for demo surveys, tests and benchmarks."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from gridmap.errors import InputError
from gridmap.files import whole_file
from gridmap.model import Float32, Float64, Int64
from gridmap.read import segy_layout as at
from gridmap.read.segy_layout import ByteOrder

WRITTEN_FORMATS = (1, 3, 5)
_CARDS, _CARD = 40, 80


def write_segy(
    path: Path | str,
    traces: Float32,
    *,
    sample_interval_ps: int,
    sample_format: int = 5,
    byte_order: ByteOrder = ">",
    trace_number: Int64 | None = None,
    time_s: Float64 | None = None,
    text: Sequence[str] = (),
) -> None:
    """Write one line as a SEG-Y revision 1 file, whole or not at all.

    Parameters
    ----------
    path : Path
        The file; its folder must exist.
    traces : (trace, sample) float32
        Amplitudes in the order walked.
    sample_interval_ps : int
        Picoseconds from sample to sample, 1 to 32767; stands in the fields the standard has for microseconds.
    sample_format : 1, 3 or 5
        IBM float, 16-bit integer (rounded; must fit) or IEEE float.
    byte_order : ">" or "<"
        Of headers and samples.
    trace_number : (trace,) int or None
        Trigger count for bytes 13-16; None writes 1, 2, 3 and so on.
    time_s : (trace,) float64 or None
        UTC seconds since 1970-01-01: bytes 157-166 and milliseconds since midnight in bytes 233-236.
    text : sequence of str
        Up to 40 lines of at most 76 characters for the textual header (EBCDIC).

    Raises
    ------
    InputError
        If a value does not fit its field.
    """
    path = Path(path)
    data = np.asarray(traces, dtype=np.float32)
    _check(data, sample_interval_ps, sample_format, text)
    stored = _encode(data, sample_format, byte_order)
    with whole_file(path) as temporary, temporary.open("wb") as stream:
        stream.write(_file_header(data.shape[1], sample_interval_ps, sample_format, byte_order, text))
        _records(stored, sample_interval_ps, byte_order, trace_number, time_s).tofile(stream)


def _check(data: Float32, interval_ps: int, sample_format: int, text: Sequence[str]) -> None:
    if data.ndim != 2 or not data.size or data.shape[1] > 32767:
        raise InputError(f"traces have shape {data.shape}; SEG-Y needs (trace, sample), 1 to 32767 samples.")
    if not 1 <= interval_ps <= 32767:
        raise InputError(f"sample_interval_ps is {interval_ps}; the SEG-Y field holds 1 to 32767.")
    if sample_format not in WRITTEN_FORMATS:
        raise InputError(f"sample format {sample_format} is not written; choose one of {WRITTEN_FORMATS}.")
    if not np.isfinite(data).all():
        raise InputError("traces hold NaN or infinite samples; remove them before writing.")
    if sample_format == 3 and max(-float(data.min()), float(data.max())) > 32767:
        raise InputError("amplitudes beyond 32767 do not fit 16-bit samples; scale them or choose format 5.")
    if len(text) > _CARDS or any(len(line) > _CARD - 4 for line in text):
        raise InputError(f"the textual header takes {_CARDS} lines of at most {_CARD - 4} characters.")


def _encode(data: Float32, sample_format: int, order: ByteOrder) -> NDArray[np.generic]:
    if sample_format == 1:
        return ieee_to_ibm(data).astype(order + "u4")
    return np.rint(data).astype(order + "i2") if sample_format == 3 else data.astype(order + "f4")


def ieee_to_ibm(values: Float32) -> NDArray[np.uint32]:
    """Encode float32 as IBM hexadecimal floats, rounded to the nearest; exact to 21 bits or better.

    The mantissa is normal: its first hexadecimal digit is not 0 unless the value is 0.
    """
    magnitude = np.abs(values.astype(np.float64))
    _, binary = np.frexp(magnitude)
    power = -(-binary // 4)
    mantissa = np.rint(np.ldexp(magnitude, 24 - 4 * power)).astype(np.uint64)
    carried = mantissa >> 24 != 0
    mantissa[carried] >>= np.uint64(4)
    word: NDArray[np.uint64] = (power + carried + 64).astype(np.uint64) << np.uint64(24) | mantissa
    word[mantissa == 0] = 0
    word |= (np.signbit(values) & (mantissa != 0)).astype(np.uint64) << np.uint64(31)
    return word.astype(np.uint32)


def _file_header(
    samples: int, interval_ps: int, sample_format: int, order: ByteOrder, text: Sequence[str]
) -> bytes:
    cards = [f"C{n + 1:2d} {text[n] if n < len(text) else ''}" for n in range(_CARDS)]
    head = bytearray("".join(card[:_CARD].ljust(_CARD) for card in cards).encode("cp037", "replace"))
    head += bytes(at.FILE_HEADER_BYTES - at.TEXT_BYTES)

    def put(field: tuple[int, str], value: int) -> None:
        byte, kind = field
        raw = np.array(value, np.dtype(kind).newbyteorder(order)).tobytes()
        head[byte - 1 : byte - 1 + len(raw)] = raw

    put(at.INTERVAL, interval_ps)
    put(at.SAMPLES, samples)
    put(at.FORMAT, sample_format)
    put((3255, "h"), 1)
    put((3501, "h"), 0x0100)
    put(at.FIXED_LENGTH, 1)
    return bytes(head)


def _records(
    stored: NDArray[np.generic],
    interval_ps: int,
    order: ByteOrder,
    trace_number: Int64 | None,
    time_s: Float64 | None,
) -> NDArray[np.void]:
    """Lay headers and samples side by side: (trace,) records as they stand in the file."""
    count, samples = stored.shape
    record = np.dtype([("head", "u1", at.TRACE_HEADER_BYTES), ("samples", stored.dtype, (samples,))])
    file = np.zeros(count, record)
    file["samples"] = stored

    def put(field: tuple[int, str], values: NDArray[np.generic] | int) -> None:
        byte, kind = field
        dtype = np.dtype(kind).newbyteorder(order)
        column = np.broadcast_to(np.asarray(values), count).astype(dtype)
        file["head"][:, byte - 1 : byte - 1 + dtype.itemsize] = column.view(np.uint8).reshape(
            count, dtype.itemsize
        )

    sequence = np.arange(1, count + 1)
    put((1, "i"), sequence)
    put((5, "i"), sequence)
    put(
        at.T_TRACE_NUMBER,
        sequence if trace_number is None else _per_trace(trace_number, count, "trace_number"),
    )
    put((29, "h"), 1)
    put(at.T_XY_SCALAR, 1)
    put(at.T_SAMPLES, samples)
    put(at.T_INTERVAL, interval_ps)
    if time_s is not None:
        milliseconds = np.rint(_per_trace(time_s, count, "time_s") * 1000.0).astype(np.int64)
        for field, values in zip(at.T_CLOCK, _clock(milliseconds // 1000), strict=True):
            put(field, values)
        put(at.T_TIME_BASIS, 4)
        put(at.T_MILLISECONDS, milliseconds % 86_400_000)
    return file


def _per_trace(values: NDArray[Any], count: int, what: str) -> NDArray[Any]:
    array = np.asarray(values)
    if array.shape != (count,):
        raise InputError(f"{what} has shape {array.shape}; it needs one number for each of {count} traces.")
    return array


def _clock(seconds: Int64) -> tuple[NDArray[np.int64], ...]:
    """Year, day of year, hour, minute, second of whole seconds since 1970-01-01."""
    moment = seconds.astype("datetime64[s]")
    year = moment.astype("datetime64[Y]")
    day = (moment.astype("datetime64[D]") - year.astype("datetime64[D]")).astype(np.int64) + 1
    of_day = seconds % 86400
    return year.astype(np.int64) + 1970, day, of_day // 3600, of_day // 60 % 60, of_day % 60
