"""Samples of every SEG-Y format to float32, block by block, with a check that each is a finite number.

Plain NumPy: a block stays in the processor's cache, so that the passes over it cost little beside the
reading.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from gridmap.model import Float32
from gridmap.read.segy_layout import ByteOrder, SampleFormat

_MANTISSA = np.uint32(0x00FFFFFF)
_EXPONENT = np.uint32(0x7F000000)
_SIGN = np.uint32(0x80000000)
_BIAS = np.uint32(153 << 23)
_LEAST, _MOST = 39 << 24, 101 << 24
_SCALE = np.array(
    [(-1.0 if byte > 127 else 1.0) * 2.0 ** (4 * ((byte & 127) - 64) - 24) for byte in range(256)]
)


def sample_view(
    buffer: NDArray[np.uint8], header_bytes: int, count: int, form: SampleFormat, order: ByteOrder
) -> Any:
    """View the samples of whole traces, no copy: (trace, trace_bytes) uint8 to (trace, count) as stored."""
    kind = "u4" if form.kind in ("ibm", "f4") else form.kind
    dtype = np.dtype(kind).newbyteorder(order)
    return np.ndarray(
        (buffer.shape[0], count),
        dtype,
        buffer,
        offset=header_bytes,
        strides=(buffer.strides[0], dtype.itemsize),
    )


def decode(stored: NDArray[Any], form: SampleFormat, out: Float32) -> None:
    """Write stored samples into `out` as native float32.

    Parameters
    ----------
    stored : (trace, sample)
        As `sample_view` gives it: 32-bit floats of both kinds as unsigned integers, so that no bit is lost.
    form : SampleFormat
        What they mean.
    out : (trace, sample) float32
        Written in place. Integers above 2**24 and 64-bit floats are rounded to the nearest float32;
        a value beyond the range of float32 becomes infinite, which `all_finite` finds.
    """
    if form.kind == "ibm":
        ibm_to_ieee(stored, out)
    elif form.kind == "f4":
        out.view(np.uint32)[...] = stored
    else:
        with np.errstate(over="ignore", invalid="ignore"):
            out[...] = stored


def ibm_to_ieee(stored: NDArray[np.uint32], out: Float32) -> None:
    """Decode IBM hexadecimal floats: value = sign * mantissa / 2**24 * 16**(exponent - 64).

    Source: IBM System/360 Principles of Operation, as SEG-Y format code 1 cites it. The 24-bit mantissa and
    the power of two are exact in float32, and so is their product, for exponents 39 to 101 (magnitude
    2**-104 to 2**124), where the power of two is built from its bits. Blocks that hold other exponents go by
    float64.

    Parameters
    ----------
    stored : (trace, sample) uint32, any byte order
        The words.
    out : (trace, sample) float32
        Written in place.
    """
    words = stored.astype(np.uint32)
    scale = words & _EXPONENT
    if scale.size and scale.max() > _MOST:
        _ibm_by_float64(words, out)
        return
    small = scale < _LEAST if scale.size and scale.min() < _LEAST else None
    if small is not None and (words[small] & _MANTISSA).any():
        _ibm_by_float64(words, out)
        return
    scale <<= np.uint32(1)
    scale -= _BIAS
    scale |= words & _SIGN
    words &= _MANTISSA
    with np.errstate(over="ignore", invalid="ignore"):  # zeros of any exponent are set below
        np.multiply(words.view(np.int32), scale.view(np.float32), out=out, casting="unsafe", dtype=np.float32)
    if small is not None:
        out[small] = 0.0


def _ibm_by_float64(words: NDArray[np.uint32], out: Float32) -> None:
    with np.errstate(over="ignore", under="ignore"):
        out[...] = (words & _MANTISSA) * _SCALE[words >> np.uint32(24)]


def all_finite(values: Float32) -> bool:
    """Say whether every value is a finite number: if not, one of the two extremes is not."""
    return math.isfinite(values.max()) and math.isfinite(values.min())
