"""Read a matrix in a NumPy or NetCDF 3 file into a `Line`; `npy_bytes` and `netcdf_bytes` give arrays by name."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from gridmap.errors import ReadError
from gridmap.model import Float32, Float64, Line
from gridmap.model.layout import ArrayLayout, TracesIn
from gridmap.read.headings import heading, time_unit
from gridmap.read.line_info import LineInfo
from gridmap.read.matrix import Matrix, info_of, line_of, naming, to_float32
from gridmap.read.netcdf_bytes import NETCDF_MARKS, read_netcdf
from gridmap.read.npy_bytes import NPY_MARK, NPZ_MARK, UnreadArray, read_npy, read_npz
from gridmap.read.opening import open_file
from gridmap.read.orient import guess_traces_in, refuse_contradiction
from gridmap.read.sample_times import NS_PER, SampleTimes

DEFAULT = ArrayLayout()
_BESIDE = ("x", "y", "number", "utc_s")


@dataclass(frozen=True, slots=True)
class Arrays:
    """Arrays of one file by name; dimension names and units where the format has them."""

    kind: str
    values: dict[str, NDArray[Any]]
    dimensions: dict[str, tuple[str, ...]]
    units: dict[str, str]
    unread: dict[str, str]


def looks_like_arrays(head: bytes) -> bool:
    """Say whether a file starts like .npy, .npz or NetCDF 3."""
    return head.startswith((NPY_MARK, NPZ_MARK, *NETCDF_MARKS))


def read_arrays(
    path: Path | str,
    *,
    name: str | None = None,
    sample_interval_ns: float | None = None,
    layout: ArrayLayout = DEFAULT,
) -> Line:
    """Read one matrix in a NumPy or NetCDF 3 file as one line.

    Parameters
    ----------
    path : Path
        The file.
    name : str or None
        The line's name; None takes the file's name without suffix.
    sample_interval_ns : float or None
        Nanoseconds from sample to sample; overrules layout and file.
    layout : ArrayLayout
        What the user states; the rest is guessed.

    Returns
    -------
    Line
        Traces (trace, sample) float32; `notes` say what was guessed.

    Raises
    ------
    ReadError
        If the file is damaged, an array named is not there or has the wrong shape, a sample is no finite
        number, or neither file nor user says how traces stand or what the sample interval is.
    """
    path = Path(path)
    return line_of(_matrix(path, layout), name or path.stem, _stated(layout, sample_interval_ns))


def describe_arrays(
    path: Path | str, *, sample_interval_ns: float | None = None, layout: ArrayLayout = DEFAULT
) -> LineInfo:
    """Describe one matrix in a NumPy or NetCDF 3 file."""
    return info_of(_matrix(Path(path), layout), _stated(layout, sample_interval_ns))


def _stated(layout: ArrayLayout, argument: float | None) -> float | None:
    return layout.sample_interval_ns if argument is None else argument


def _matrix(path: Path, layout: ArrayLayout) -> Matrix:
    with open_file(path) as stream:
        data = stream.read()
    arrays = _arrays(data, path.name)
    with naming(path.name):
        return _sort_out(arrays, layout, path.name)


def _arrays(data: bytes, source: str) -> Arrays:
    if data.startswith(NETCDF_MARKS):
        held = read_netcdf(data, source)
        return Arrays(
            "NetCDF 3",
            {key: one.values for key, one in held.items()},
            {key: one.dimensions for key, one in held.items()},
            {key: one.units for key, one in held.items()},
            {},
        )
    packed = data.startswith(NPZ_MARK)
    found = read_npz(data, source) if packed else {"array": read_npy(data, source)}
    values = {key: one for key, one in found.items() if not isinstance(one, UnreadArray)}
    unread = {key: one.why for key, one in found.items() if isinstance(one, UnreadArray)}
    return Arrays("NumPy .npz" if packed else "NumPy .npy", values, {}, {}, unread)


def _sort_out(arrays: Arrays, layout: ArrayLayout, source: str) -> Matrix:
    """Tell samples, sample times and what stands beside the traces apart."""
    if layout.traces_in not in (None, "rows", "columns") or layout.time_unit not in (None, *NS_PER):
        raise ReadError("the array layout has a traces_in or time_unit that cannot be.")
    key, notes = _amplitude(arrays, layout)
    cells = arrays.values[key]
    if cells.ndim != 2 or cells.size == 0:
        shape = " by ".join(map(str, cells.shape)) or "one number"
        raise ReadError(f"array {_plain(key)} is {shape}; a line has two axes, traces and samples.")
    with naming(f"array {_plain(key)}"):
        whole = to_float32(cells, ("row", "column"))
    times, note = _times(arrays, layout, key)
    notes += note
    traces_in = layout.traces_in
    if traces_in is None:
        traces_in, why = _guess_traces_in(arrays, layout, key, whole, times)
        notes += (why,)
    body = np.ascontiguousarray(whole if traces_in == "rows" else whole.T)
    if times is not None and not times.is_interval and times.values.size != body.shape[1]:
        raise ReadError(
            f"{times.where} has {times.values.size} numbers, but a trace of {_plain(key)} has "
            f"{body.shape[1]} samples if traces are in {traces_in}. Correct time or traces_in of the array "
            "layout."
        )
    beside, more = _beside(arrays, layout, body.shape[0])
    stored = f"{cells.dtype.itemsize * 8}-bit " + {"f": "float", "b": "truth value"}.get(
        cells.dtype.kind, "integer"
    )
    kind = f"{arrays.kind}, traces in {traces_in}"
    return Matrix(source, kind, stored, body, times, beside, (*notes, *more))


def _amplitude(arrays: Arrays, layout: ArrayLayout) -> tuple[str, tuple[str, ...]]:
    """Find the array of samples: the one named, else the only one with two axes."""
    if layout.amplitude is not None and arrays.kind != "NumPy .npy":
        _get(arrays, layout.amplitude, "amplitude")
        return layout.amplitude, ()
    flat = [key for key, one in arrays.values.items() if one.ndim == 2]
    if len(flat) == 1:
        return flat[0], (f"samples taken from array {_plain(flat[0])}",) if len(arrays.values) > 1 else ()
    if flat:
        raise ReadError(f"several arrays have two axes: {_list(flat)}. State amplitude in the array layout.")
    raise ReadError(
        f"no array of plain numbers has two axes ({_held(arrays)}). A line needs traces by samples."
    )


def _times(arrays: Arrays, layout: ArrayLayout, amplitude: str) -> tuple[SampleTimes | None, tuple[str, ...]]:
    """Find the sample times: the array named, else the one whose name or units say so."""
    shape = arrays.values[amplitude].shape
    if layout.time is not None:
        values = _vector(arrays, layout.time, "time")
        alone = arrays.values[layout.time].ndim == 0 or (values.size == 1 and 1 not in shape)
        where = f"array {_plain(layout.time)}"
        return SampleTimes(
            values, layout.time_unit or _unit(arrays, layout.time), where, alone, layout.time
        ), ()
    found = []
    for key, one in arrays.values.items():
        unit = _unit(arrays, key)
        named = heading(key).meaning == "time" or (
            unit is not None and key in arrays.dimensions.get(amplitude, ())
        )
        if (
            named
            and one.ndim == 1
            and one.size > 1
            and one.size in shape
            and "since" not in arrays.units.get(key, "")
        ):
            found.append((key, unit))
    if len(found) != 1:
        return None, ()
    key, unit = found[0]
    values = arrays.values[key].astype(np.float64)
    where = f"array {_plain(key)}"
    return SampleTimes(values, layout.time_unit or unit, where, name=key), (
        f"sample times taken from {where}",
    )


def _unit(arrays: Arrays, key: str) -> str | None:
    return time_unit(arrays.units.get(key, "")) or heading(key).unit


def _guess_traces_in(
    arrays: Arrays, layout: ArrayLayout, key: str, cells: Float32, times: SampleTimes | None
) -> tuple[TracesIn, str]:
    """Guess the axis of the traces: from what goes along it by dimension or length, else from likeness.

    Where only a name says that an array holds sample times, the likeness of neighbours may not contradict.
    """
    found, note = _along(arrays, layout, key, cells.shape, times)
    if found is None:
        return guess_traces_in(cells)
    if layout.time is None:
        refuse_contradiction(cells, found, note)
    return found, note


def _along(
    arrays: Arrays, layout: ArrayLayout, key: str, shape: tuple[int, ...], times: SampleTimes | None
) -> tuple[TracesIn | None, str]:
    """Find the axis of the traces by dimension names, else by lengths; None where neither tells."""
    rows, columns = shape
    axes = arrays.dimensions.get(key, ())
    own = arrays.dimensions.get(times.name, ()) if times is not None else ()
    if len(set(axes)) == 2 and len(own) == 1 and own[0] in axes:
        return ("columns", "rows")[
            axes.index(own[0])
        ], f"dimension {_plain(own[0])} is that of the sample times"
    count = times.values.size if times is not None else 0
    if rows != columns and count > 1 and count in shape:
        return ("rows" if count == columns else "columns"), f"the axis of {count} is that of the sample times"
    for word in _BESIDE:
        named = getattr(layout, word)
        if rows != columns and named in arrays.values and arrays.values[named].size in shape:
            count = arrays.values[named].size
            return ("rows" if count == rows else "columns"), f"the axis of {count} is that of {_plain(named)}"
    return None, ""


def _beside(arrays: Arrays, layout: ArrayLayout, traces: int) -> tuple[dict[str, Float64], tuple[str, ...]]:
    """Collect what each trace has: arrays named, else those whose names say so and whose length fits."""
    beside: dict[str, Float64] = {}
    notes: list[str] = []
    for word in _BESIDE:
        key = getattr(layout, word)
        if key is not None:
            values = _vector(arrays, key, word)
            if values.size != traces:
                raise ReadError(
                    f"array {_plain(key)} has {values.size} numbers for {traces} traces. Correct {word}."
                )
            beside[word] = values
            continue
        likely = [
            key
            for key, one in arrays.values.items()
            if heading(key).meaning == word and one.shape == (traces,) and np.isfinite(one).all()
        ]
        if len(likely) == 1:
            beside[word] = arrays.values[likely[0]].astype(np.float64)
            notes.append(f"{word} of the traces taken from array {_plain(likely[0])}")
    return beside, tuple(notes)


def _vector(arrays: Arrays, key: str, word: str) -> Float64:
    """Give an array named in the layout as finite float64 (n,); a single number is (1,)."""
    values = _get(arrays, key, word)
    if values.ndim > 1 or values.size == 0:
        raise ReadError(
            f"array {_plain(key)} has {values.ndim} axes; {word} needs one. Correct the array layout."
        )
    wide = values.reshape(-1).astype(np.float64)
    bad = np.flatnonzero(~np.isfinite(wide))
    if bad.size:
        raise ReadError(
            f"array {_plain(key)}: number {bad[0] + 1} is not finite. Re-export the line without gaps."
        )
    return wide


def _get(arrays: Arrays, key: str, word: str) -> NDArray[Any]:
    if key in arrays.values:
        return arrays.values[key]
    if key in arrays.unread:
        raise ReadError(f"array {_plain(key)} holds {arrays.unread[key]}. Save it as plain numbers.")
    raise ReadError(f"there is no array {_plain(key)} ({word}). The file holds {_held(arrays)}.")


def _held(arrays: Arrays) -> str:
    shapes = [f"{_plain(key)} {one.shape}" for key, one in arrays.values.items()]
    return _list(shapes + [f"{_plain(key)} with {why}" for key, why in arrays.unread.items()]) or "no arrays"


def _list(words: list[str], most: int = 6) -> str:
    return ", ".join(words[:most]) + (f" and {len(words) - most} more" if len(words) > most else "")


def _plain(text: str) -> str:
    return "".join(c if c.isprintable() else "?" for c in text[:60])
