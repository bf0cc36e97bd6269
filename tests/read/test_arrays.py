"""NumPy and NetCDF 3 files, written by NumPy, SciPy and xarray."""

from __future__ import annotations

import io
import struct
import zipfile
from pathlib import Path

import numpy as np
import pytest
from scipy.io import netcdf_file

from gridmap.errors import ReadError
from gridmap.model.layout import ArrayLayout, Layouts
from gridmap.read import as_table, describe, read_arrays, read_line

TIMES = 0.4 * np.arange(32)
WAVES = (np.round(np.sin(TIMES * 1.3) * 1000) + np.arange(12)[:, None] * 3.0).astype(np.float32)


@pytest.mark.parametrize("kind", ["<f4", ">f4", "<f8", ">i2", "<i4", "<f2"])
def test_npy_in_every_number_type(tmp_path: Path, kind: str) -> None:
    """A bare array comes back in both orientations and memory orders; the interval must be stated."""
    for k, cells in enumerate((WAVES, WAVES.T, np.asfortranarray(WAVES))):
        path = tmp_path / f"{k}.npy"
        np.save(path, cells.astype(kind))
        np.testing.assert_array_equal(read_line(path, sample_interval_ns=0.4).traces, WAVES.astype(kind))
        with pytest.raises(ReadError, match="nothing in the file gives the sample interval"):
            read_line(path)
    info = describe(path)
    assert (info.traces, info.samples) == (12, 32)
    assert "NumPy .npy" in as_table([info])


def test_npz_by_its_names(tmp_path: Path) -> None:
    """Arrays with telling names need no layout; what was taken for what is told."""
    path = tmp_path / "a.npz"
    np.savez(
        path,
        data=WAVES.T,
        time_ns=TIMES - 2,
        x_m=np.arange(12) * 0.1,
        y_m=np.ones(12),
        trace=np.arange(12) * 2,
    )
    line = read_line(path)
    np.testing.assert_array_equal(line.traces, WAVES)
    assert (line.sample_interval_ns, line.sample_start_ns) == pytest.approx((0.4, -2))
    np.testing.assert_allclose(line.header_xy, np.stack([np.arange(12) * 0.1, np.ones(12)], axis=1))
    np.testing.assert_array_equal(line.trace_number, np.arange(12) * 2)
    assert any("array time_ns" in note for note in line.notes)
    assert describe(path).missing == 11


def test_npz_by_layout(tmp_path: Path) -> None:
    """Names that the user states are obeyed, a single number as the interval."""
    path = tmp_path / "a.npz"
    np.savez_compressed(
        path, a=WAVES, b=WAVES * 2, step=0.4e-9, e=np.arange(12), n=np.zeros(12), when=1.6e9 + np.arange(12)
    )
    with pytest.raises(ReadError, match=r"several arrays have two axes: a, b. State amplitude"):
        read_line(path)
    layout = ArrayLayout("b", "rows", time="step", time_unit="s", x="e", y="n", utc_s="when")
    line = read_line(path, layouts=Layouts(arrays=layout))
    np.testing.assert_array_equal(line.traces, WAVES * 2)
    assert line.sample_interval_ns == pytest.approx(0.4)
    np.testing.assert_array_equal(line.time_s, 1.6e9 + np.arange(12))
    np.testing.assert_array_equal(line.header_xy[:, 0], np.arange(12))


@pytest.mark.parametrize(
    ("layout", "words"),
    [
        (ArrayLayout(amplitude="q"), "there is no array q (amplitude)"),
        (ArrayLayout(amplitude="t"), "array t is 32; a line has two axes"),
        (ArrayLayout(time="x"), "array x has 12 numbers, but a trace of a has 32 samples"),
        (ArrayLayout(x="t"), "array t has 32 numbers for 12 traces"),
        (ArrayLayout(amplitude="text"), "no plain numbers"),
        (ArrayLayout(amplitude="things"), "Python objects, which are never loaded"),
        (ArrayLayout(number="gaps"), "array gaps: number 3 is not finite"),
        (ArrayLayout(traces_in="up"), "traces_in"),  # type: ignore[arg-type]
        (ArrayLayout(sample_interval_ns=0.0), "sample_interval_ns is 0"),
    ],
)
def test_layouts_that_cannot_be(tmp_path: Path, layout: ArrayLayout, words: str) -> None:
    """A layout that the file does not bear out is refused by array name."""
    gaps = np.array([0, 1, np.nan, *range(9)])
    things = np.array([{}, None], dtype=object)
    np.savez(
        tmp_path / "a.npz",
        a=WAVES,
        t=TIMES,
        x=np.arange(12.0),
        text=np.array(["u", "v"]),
        things=things,
        gaps=gaps,
    )
    if layout.traces_in is None and layout.time == "x":
        layout = ArrayLayout(time="x", traces_in="rows")
    with pytest.raises(ReadError) as caught:
        read_arrays(tmp_path / "a.npz", layout=layout)
    assert words in str(caught.value)
    assert str(caught.value).startswith("a.npz: ")


def write_netcdf(path: Path, version: int = 1, **attributes: object) -> Path:
    """Write a packed NetCDF 3 file by SciPy."""
    with netcdf_file(path, "w", version=version) as file:
        file.createDimension("twt", 32)
        file.createDimension("trace", 12)
        time = file.createVariable("twt", "f8", ("twt",))
        time[:] = TIMES * 1e-9
        time.units = "s"
        data = file.createVariable("amplitude", "i2", ("twt", "trace"))
        data[:] = WAVES.T
        for key, value in attributes.items():
            setattr(data, key, value)
    return path


@pytest.mark.parametrize("version", [1, 2])
def test_netcdf_by_scipy(tmp_path: Path, version: int) -> None:
    """Dimension names say which axis counts samples, the units attribute which unit; packing is undone."""
    line = read_line(write_netcdf(tmp_path / "a.nc", version, scale_factor=0.5, add_offset=10.0))
    np.testing.assert_array_equal(line.traces, WAVES * 0.5 + 10)
    assert line.sample_interval_ns == pytest.approx(0.4)
    assert "NetCDF 3" in describe(tmp_path / "a.nc").kind


def test_netcdf_by_xarray(tmp_path: Path) -> None:
    """A data set as xarray writes it, with co-ordinates, is read without a layout."""
    xarray = pytest.importorskip("xarray", reason="xarray is not installed")
    coords = {
        "time": ("time", TIMES, {"units": "ns"}),
        "x": ("trace", np.arange(12) * 0.1),
        "y": ("trace", np.full(12, 3.0)),
    }
    dataset = xarray.Dataset({"signal": (("trace", "time"), WAVES)}, coords=coords)
    dataset.to_netcdf(tmp_path / "a.nc", engine="scipy")
    line = read_line(tmp_path / "a.nc")
    np.testing.assert_array_equal(line.traces, WAVES)
    assert line.sample_interval_ns == pytest.approx(0.4)
    np.testing.assert_allclose(line.header_xy[:, 1], 3.0)


def test_missing_values_are_refused(tmp_path: Path) -> None:
    """A fill value among the samples is a gap: named by row and column."""
    path = write_netcdf(tmp_path / "a.nc", _FillValue=np.int16(WAVES[2, 1]))
    with pytest.raises(ReadError, match=r"array amplitude: 1 of 384 samples .* row 2, column 3"):
        read_line(path)
    np.save(tmp_path / "b.npy", np.where(WAVES[2, 1] == WAVES, np.inf, WAVES))
    with pytest.raises(ReadError, match="row 3, column 2"):
        read_line(tmp_path / "b.npy", sample_interval_ns=0.4)


def test_a_clock_named_time_is_not_taken_for_sample_times(tmp_path: Path) -> None:
    """An array named time along the traces contradicts the samples; the user is asked."""
    np.savez(tmp_path / "a.npz", data=WAVES, time=np.arange(12) * 0.5)
    with pytest.raises(ReadError, match="State traces_in"):
        read_line(tmp_path / "a.npz")


@pytest.mark.parametrize(("head", "words"), [(b"\x89HDF\r\n\x1a\n", "HDF5"), (b"CDF\x05", "64-bit data")])
def test_other_formats_are_named(tmp_path: Path, head: bytes, words: str) -> None:
    """HDF5 (NetCDF 4) and 64-bit-data NetCDF are named, with the way out."""
    (tmp_path / "a").write_bytes(head + bytes(500))
    with pytest.raises(ReadError, match=f"{words}.*convert it to NetCDF 3 classic"):
        read_line(tmp_path / "a")


def npy(header: str) -> bytes:
    raw = header.encode() + b"\n"
    return b"\x93NUMPY\x01\x00" + struct.pack("<H", len(raw)) + raw


@pytest.mark.parametrize(
    "header",
    [
        "{'descr': '<f4', 'fortran_order': False, 'shape': (4294967296, 4294967296)}",
        "{'descr': '<f4', 'fortran_order': False, 'shape': (-1, 8)}",
        "{'descr': '<f4', 'fortran_order': False, 'shape': (True, 8)}",
        "{'descr': '<f4', 'fortran_order': False, 'shape': 8}",
        "{'descr': '<f4', 'fortran_order': False, 'shape': (0, 8)}",
        "{'descr': '|V99999999999', 'fortran_order': False, 'shape': (2, 2)}",
        "{'descr': '<f1', 'fortran_order': False, 'shape': (2, 2)}",
        "{'descr': '<c8', 'fortran_order': False, 'shape': (2, 2)}",
        "{'descr': '|O', 'fortran_order': False, 'shape': (2, 2)}",
        "{'descr': [('a', '<f4')], 'fortran_order': False, 'shape': (2, 2)}",
        "__import__('os').getcwd()",
        "(" * 3000,
        "[" * 900 + "]" * 900,
        "9" * 4000,
        "{}",
        "",
    ],
)
def test_hostile_npy_headers(tmp_path: Path, header: str) -> None:
    """Headers that promise too much, hold no plain numbers or no header at all are refused on one line."""
    (tmp_path / "a.npy").write_bytes(npy(header) + bytes(64))
    with pytest.raises(ReadError) as caught:
        read_line(tmp_path / "a.npy", sample_interval_ns=0.4)
    assert "\n" not in str(caught.value)


def test_hostile_archives(tmp_path: Path) -> None:
    """An archive that unpacks to far more than its length, or is damaged or locked, is refused."""
    path = tmp_path / "a.npz"
    np.savez_compressed(path, a=np.zeros((4000, 4000), np.float32))
    with pytest.raises(ReadError, match="unpack to"):
        read_line(path)
    np.savez(path, a=WAVES)
    whole = path.read_bytes()
    for damaged in (whole[:-30], whole[:200] + b"xxxx" + whole[204:]):
        path.write_bytes(damaged)
        with pytest.raises(ReadError, match="archive is damaged"):
            read_line(path)
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_BZIP2) as archive:
        archive.writestr("a.npy", b"1234")
    path.write_bytes(stream.getvalue())
    with pytest.raises(ReadError, match="packed otherwise"):
        read_line(path)


def test_netcdf_variables_that_share_their_bytes(tmp_path: Path) -> None:
    """Many variables that point at the same bytes cannot multiply the length of the file in memory."""
    count, size = 200, 20_000

    def name(text: str) -> bytes:
        raw = text.encode()
        return struct.pack(">I", len(raw)) + raw + bytes(-len(raw) % 4)

    head = b"CDF\x01" + struct.pack(">i", 0) + struct.pack(">II", 10, 1) + name("n") + struct.pack(">I", size)
    head += struct.pack(">II", 0, 0) + struct.pack(">II", 11, count)
    each = len(name("v000")) + 4 + 4 + 8 + 12
    begin = len(head) + each * count
    for k in range(count):
        head += name(f"v{k:03d}") + struct.pack(">II", 1, 0) + struct.pack(">II", 0, 0)
        head += struct.pack(">III", 5, size * 4, begin)
    (tmp_path / "a.nc").write_bytes(head + bytes(size * 4))
    with pytest.raises(ReadError, match="damaged"):
        read_line(tmp_path / "a.nc")
