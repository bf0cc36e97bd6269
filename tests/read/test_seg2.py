"""SEG-2 against files of an independent writer (benchmarks/line_files.py), and against ObsPy on its own samples.

Layout: S. E. Pullan, Geophysics 55 (1990) 1260-1271.
"""

from __future__ import annotations

import gzip
import struct
import warnings
from pathlib import Path

import numpy as np
import pytest

from benchmarks.line_files import write_seg2 as write
from gridmap.errors import ReadError
from gridmap.read import as_table, describe, read_line, read_seg2
from gridmap.read.seg2_samples import unpack_20_bit
from gridmap.read.seg2_strings import moment_s

WAVE = np.arange(120).reshape(3, 40) - 60


@pytest.mark.parametrize("order", ["<", ">"])
@pytest.mark.parametrize("code", [1, 2, 4, 5])
def test_plain_codes_come_back(tmp_path: Path, code: int, order: str) -> None:
    """Integers and floats of every width read to the numbers written, in both byte orders."""
    line = read_line(write(tmp_path / "a.dat", WAVE, code=code, order=order))
    np.testing.assert_array_equal(line.traces, WAVE)
    assert line.sample_interval_ns == pytest.approx(0.2)
    assert line.name == "a"
    info = describe(tmp_path / "a.dat")
    assert (info.traces, info.samples, info.trouble) == (3, 40, "")
    assert info.byte_order == {"<": "little-endian", ">": "big-endian"}[order]
    assert "SEG-2" in as_table([info])


def test_20_bit_groups_by_hand() -> None:
    """Four exponents, lowest nibble first, then four one's complement mantissas.

    Worked by hand: 3 * 2**1, -3 * 2**2 (-3 is 0xFFFC), minus zero, 0x7FFF * 2**15.
    """
    words = np.array([0xF021, 3, 0xFFFC, 0xFFFF, 0x7FFF], np.uint16)
    np.testing.assert_array_equal(unpack_20_bit(words), [6, -12, 0, 32767 * 32768])


def test_20_bit_file_in_both_orders(tmp_path: Path) -> None:
    """A last group that is not full is read as far as the samples go."""
    words = np.array([0xF021, 3, 0xFFFC, 0xFFFF, 0x7FFF, 0x0000, 5, 6, 0, 0])
    for order in "<>":
        raw = words.astype(order + "u2").tobytes()
        path = write(
            tmp_path / "a", np.zeros((2, 6)), code=3, order=order, raw=raw, trace=("SAMPLE_INTERVAL 2e-9",)
        )
        np.testing.assert_array_equal(read_line(path).traces, [[6, -12, 0, 32767 * 32768, 5, 6]] * 2)


@pytest.mark.parametrize(
    ("text", "interval_ns", "words"),
    [
        ("4.0E-10", 0.4, "window 16 ns"),
        ("0.000000002", 2.0, "window 80 ns"),
        ("0.4", 0.4, "nanoseconds"),
        ("400", 0.4, "picoseconds"),
        ("0.0004", 0.4, "microseconds"),
        ("4D-10", 0.4, "window 16 ns"),
    ],
)
def test_unit_of_the_interval(tmp_path: Path, text: str, interval_ns: float, words: str) -> None:
    """Seconds where they can be a radar window, else the one unit that can; the note says which."""
    line = read_line(write(tmp_path / "a", WAVE, trace=(f"SAMPLE_INTERVAL {text}",)))
    assert line.sample_interval_ns == pytest.approx(interval_ns)
    assert words in line.notes[0]


def test_strings_of_traces(tmp_path: Path) -> None:
    """Delay in seconds, factor by trace, places as the mean of source and receiver, counts, times."""
    path = write(
        tmp_path / "a",
        WAVE,
        file=("ACQUISITION_DATE 07/JAN/2013", "UNITS FEET", "COMPANY Field \x01crew"),
        trace=("SAMPLE_INTERVAL 1e-9", "DELAY -5e-9"),
        each={
            k: (
                f"DESCALING_FACTOR {k + 1}",
                f"SOURCE_LOCATION {k} 10 0",
                f"RECEIVER_LOCATION {k + 2} 20 0",
                f"SHOT_SEQUENCE_NUMBER {2 * k + 1}",
                f"ACQUISITION_TIME 10:30:4{k}.5",
            )
            for k in range(3)
        },
    )
    line = read_line(path)
    np.testing.assert_array_equal(line.traces, WAVE * [[1], [2], [3]])
    assert line.sample_start_ns == pytest.approx(-5)
    np.testing.assert_array_equal(line.header_xy, [[1, 15], [2, 15], [3, 15]])
    np.testing.assert_array_equal(line.trace_number, [1, 3, 5])
    # 2013-01-07 10:30:40 UTC is 1357554640 by `date -u -d`.
    np.testing.assert_allclose(line.time_s, 1357554640.5 + np.arange(3))
    assert any("feet" in note for note in line.notes)
    info = describe(path)
    assert info.missing == 2
    assert info.text == ("COMPANY Field crew",)
    assert info.start_ns == line.sample_start_ns


def test_what_cannot_be_true_is_not_used(tmp_path: Path) -> None:
    """Channel numbers that stand still, one co-ordinate, a factor that one trace lacks: told, not used."""
    path = write(
        tmp_path / "a",
        WAVE,
        trace=("SAMPLE_INTERVAL 1e-9", "CHANNEL_NUMBER 1", "SOURCE_LOCATION 1004.0"),
        each={0: ("DESCALING_FACTOR 2",)},
    )
    line = read_line(path)
    assert line.trace_number is None
    assert line.header_xy is None
    np.testing.assert_array_equal(line.traces, WAVE)
    text = " ".join(line.notes)
    assert "CHANNEL_NUMBER not used" in text
    assert "co-ordinates not used" in text
    assert "DESCALING_FACTOR not applied: trace 2" in text


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"trace": ()}, "no SAMPLE_INTERVAL"),
        ({"trace": ("SAMPLE_INTERVAL 0",)}, "SAMPLE_INTERVAL is 0"),
        ({"trace": ("SAMPLE_INTERVAL -1e-9",)}, "SAMPLE_INTERVAL is -1e-09"),
        ({"trace": ("SAMPLE_INTERVAL nan",)}, "no SAMPLE_INTERVAL"),
        ({"trace": ("SAMPLE_INTERVAL 1e-99",)}, "no other unit"),
        ({"each": {2: ("DELAY 1e-9",), 1: ("DELAY 2e-9",)}}, "trace 3 has DELAY"),
        ({"code": 6, "raw": bytes(160)}, "data format code 6 does not exist"),
    ],
)
def test_refusals_name_the_trouble(tmp_path: Path, change: dict, words: str) -> None:
    """A line that cannot be right is refused on one line with file and cause; describe tells the same."""
    path = (
        write(tmp_path / "a.sg2", WAVE, **change) if "code" not in change else _bad_code(tmp_path / "a.sg2")
    )
    with pytest.raises(ReadError, match=words) as caught:
        read_line(path)
    assert str(caught.value).startswith("a.sg2: ")
    assert "\n" not in str(caught.value)
    if "code" not in change:
        assert words in describe(path).trouble
    if "trace" in change:
        assert read_line(path, sample_interval_ns=0.5).sample_interval_ns == 0.5


def _bad_code(path: Path) -> Path:
    data = bytearray(write(path, WAVE).read_bytes())
    (first,) = struct.unpack_from("<I", data, 32)
    data[first + 12] = 6
    path.write_bytes(data)
    return path


def test_unequal_traces_are_refused(tmp_path: Path) -> None:
    """A trace of another length is named with both lengths."""
    data = bytearray(write(tmp_path / "a", WAVE).read_bytes())
    (third,) = struct.unpack_from("<I", data, 40)
    struct.pack_into("<I", data, third + 8, 39)
    (tmp_path / "a").write_bytes(data)
    with pytest.raises(ReadError, match="trace 3 has 39 samples where the traces before it have 40"):
        read_seg2(tmp_path / "a")
    assert "39 samples" in describe(tmp_path / "a").trouble


def test_hostile_blocks(tmp_path: Path) -> None:
    """Pointers outside the file or to one trace many times, huge counts, no traces: refused by name."""
    sound = write(tmp_path / "a", WAVE).read_bytes()
    (first,) = struct.unpack_from("<I", sound, 32)

    def refused(words: str, *changes: tuple[str, int, int]) -> None:
        data = bytearray(sound)
        for kind, at, value in changes:
            struct.pack_into(kind, data, at, value)
        (tmp_path / "b").write_bytes(data)
        with pytest.raises(ReadError, match=words):
            read_seg2(tmp_path / "b")

    refused("outside the file", ("<I", 36, 2**32 - 1))
    refused(
        "shares its bytes",
        ("<I", 36, first),
        ("<I", 40, first),
        ("<I", first + 8, 90),
        ("<I", first + 4, 999),
    )
    refused("no trace descriptor", ("<I", 36, first + 4))
    refused("promised", ("<I", first + 8, 2**31))
    refused("data block is said to have 8", ("<I", first + 4, 8))
    refused("no traces", ("<H", 6, 0))
    refused("ends inside the list", ("<H", 4, 65532), ("<H", 6, 16000))
    refused("no samples", *[("<I", struct.unpack_from("<I", sound, 32 + 4 * k)[0] + 8, 0) for k in range(3)])


def test_nan_names_trace_and_sample(tmp_path: Path) -> None:
    """A sample that is no finite number is named."""
    wave = WAVE.astype(float)
    wave[1, 4] = np.nan
    with pytest.raises(ReadError, match="first is in trace 2, sample 5"):
        read_line(write(tmp_path / "a", wave, code=4))


@pytest.mark.parametrize(
    ("date", "time", "seconds"),
    [
        ("07/JAN/2013", "10:30:41", 1357554641),
        ("7/MAR/2018", "3:12:45", 1520392365),
        ("29/FEB/2000", "00:00", 951782400),
        ("30/FEB/2000", "00:00:00", None),
        ("01/02/2013", "10:00:00", None),
        ("01/JAN/0001", "10:00:00", None),
        (None, "10:00:00", None),
        ("07/JAN/2013", "25:00:00", None),
    ],
)
def test_dates(date: str | None, time: str, seconds: int | None) -> None:
    """Dates as the standard writes them; expected seconds by `date -u +%s`."""
    assert moment_s(date, time) == seconds


def _samples() -> list[Path]:
    obspy = pytest.importorskip("obspy", reason="ObsPy is not installed")
    folder = Path(obspy.__file__).parent / "io/seg2/tests/data"
    found = sorted(path for path in folder.glob("*") if ".seg2" in path.name)
    if not found:
        pytest.skip("this ObsPy comes without its SEG-2 samples")
    return found


def test_same_numbers_as_obspy(tmp_path: Path) -> None:
    """ObsPy's packaged samples (32-bit integers and 20-bit floats) give ObsPy's numbers times its factor."""
    obspy = pytest.importorskip("obspy", reason="ObsPy is not installed")
    for path in _samples():
        raw = path.read_bytes()
        mine = tmp_path / path.name.removesuffix(".gz")
        mine.write_bytes(gzip.decompress(raw) if path.suffix == ".gz" else raw)
        line = read_line(mine)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            theirs = obspy.read(str(path), format="SEG2" if path.suffix != ".gz" else None)
        expected = np.stack([trace.data * trace.stats.calib for trace in theirs]).astype(np.float32)
        np.testing.assert_array_equal(line.traces, expected)
        # Seismic records: a window of seconds can be no radar's, so the interval is read a million times shorter.
        assert line.sample_interval_ns == pytest.approx(theirs[0].stats.delta * 1e3)
        assert "cannot be seconds" in line.notes[0]
        text = describe(mine)
        assert (text.traces, text.samples) == expected.shape
