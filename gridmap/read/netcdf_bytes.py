"""NetCDF 3 (classic and 64-bit offset) to named arrays with dimension names and units, by SciPy's reader."""

from __future__ import annotations

import io
import math
import struct
import warnings
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from gridmap.errors import ReadError

NETCDF_MARKS = (b"CDF\x01", b"CDF\x02")


@dataclass(frozen=True, slots=True)
class Variable:
    """One variable: values, names of its dimensions, its units attribute or ""."""

    values: NDArray[Any]
    dimensions: tuple[str, ...]
    units: str


def read_netcdf(data: bytes, source: str) -> dict[str, Variable]:
    """Read the numeric variables of a NetCDF 3 file.

    `scale_factor` and `add_offset` are applied and `_FillValue` and `missing_value` become NaN, as the NetCDF
    conventions have it.

    Parameters
    ----------
    data : bytes
        The whole file.
    source : str
        The file, as a message names it.

    Raises
    ------
    ReadError
        If the file is not what its header says.
    """
    from scipy.io import netcdf_file

    damaged = f"{source}: the NetCDF file is damaged or cut short. Copy or export it again."
    _check_counts(data, damaged)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            with netcdf_file(_Once(data), "r", mmap=False) as file:
                held = {
                    name: (
                        np.array(variable.data),
                        tuple(map(str, variable.dimensions)),
                        dict(getattr(variable, "_attributes", {})),
                    )
                    for name, variable in file.variables.items()
                    if np.asarray(variable.data).dtype.kind in "iuf"
                }
    except Exception:  # whatever a foreign parser makes of damaged bytes
        raise ReadError(damaged) from None
    return {name: _variable(*parts) for name, parts in held.items()}


class _Once(io.BytesIO):
    """Bytes that may be read about once, so that variables which share their bytes cannot fill the memory."""

    def __init__(self, data: bytes) -> None:
        super().__init__(data)
        self._left = 2 * len(data) + 4096

    def read(self, size: int | None = -1, /) -> bytes:
        raw = super().read(size)
        self._left -= len(raw)
        if self._left < 0:
            raise ValueError("variables overlap")
        return raw


def _variable(values: NDArray[Any], dimensions: tuple[str, ...], attributes: dict[str, Any]) -> Variable:
    raw = attributes.get("units", b"")
    units = raw.decode("utf-8", "replace") if isinstance(raw, bytes) else str(raw)
    missing = [
        one for key in ("_FillValue", "missing_value") if (one := _one(attributes.get(key))) is not None
    ]
    scale, offset = _one(attributes.get("scale_factor")), _one(attributes.get("add_offset"))
    if missing or scale is not None or offset is not None:
        wide = values.astype(np.float64)
        absent = np.isin(wide, missing)
        if absent.any():
            wide = np.where(absent, np.nan, wide)
        with np.errstate(over="ignore", invalid="ignore"):
            values = wide * (1.0 if scale is None else scale) + (0.0 if offset is None else offset)
    return Variable(values, dimensions, units)


def _one(value: object) -> float | None:
    """Give an attribute that is one finite number, else None."""
    try:
        number = float(np.asarray(value, np.float64).reshape(-1)[0]) if value is not None else math.nan
    except (ValueError, TypeError, IndexError):
        return None
    return number if math.isfinite(number) else None


def _check_counts(data: bytes, damaged: str) -> None:
    """Refuse a record or dimension count that cannot be before SciPy's reader allocates for it."""
    if len(data) < 16:
        raise ReadError(damaged)
    records, tag, dimensions = struct.unpack_from(">iII", data, 4)
    if records < -1 or records > len(data) or tag not in (0, 10) or dimensions * 12 > len(data):
        raise ReadError(damaged)
