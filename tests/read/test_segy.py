from __future__ import annotations

import struct
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import segyio

from gridmap.errors import ReadError
from gridmap.model import Line
from gridmap.read import read_segy
from gridmap.read.segy_layout import HELD_WORDS

ORDERS = {">": "big", "<": "little"}


def by_segyio(path: Path, order: str) -> np.ndarray:
    """Samples as the reference library reads them."""
    with segyio.open(path, ignore_geometry=True, endian=order) as file:
        return np.array(file.trace.raw[:])


OUTSIDE = {
    **{f"Format{code}msb.sgy": "big" for code in (1, 2, 3, 5, 8)},
    **{f"Format{code}lsb.sgy": "little" for code in (1, 2, 3, 5, 8)},
    "small.sgy": "big",
    "small-lsb.sgy": "little",
    "text-embed-null.sgy": "big",
    "delay-scalar.sgy": "big",
    "multi-text.sgy": "big",
    "tiny.sgy": "big",
    "interval-neg-bin-neg-trace.sgy": "big",
    "interval-neg-bin-pos-trace.sgy": "big",
}  # fmt: skip


@pytest.mark.parametrize(("name", "order"), OUTSIDE.items())
def test_files_made_by_others_give_the_numbers_of_the_reference_reader(
    outside: Path, name: str, order: str
) -> None:
    """Every readable file of segyio's test data decodes to exactly what segyio decodes."""
    line = read_segy(outside / name, sample_interval_ns=4.0)
    expected = by_segyio(outside / name, order)
    assert line.traces.dtype == np.float32
    np.testing.assert_array_equal(line.traces, expected.astype(np.float32))


def test_one_survey_in_five_formats_and_two_orders_is_one_array(outside: Path) -> None:
    """The cropped survey is one array in both orders, and in formats 1, 2 and 5 as near as each holds it."""
    arrays = {name: read_segy(outside / name).traces for name in OUTSIDE if name.startswith("Format")}
    reference = arrays["Format5msb.sgy"]
    assert reference.shape == (414, 75)
    for code in (1, 2, 3, 5, 8):
        np.testing.assert_array_equal(arrays[f"Format{code}msb.sgy"], arrays[f"Format{code}lsb.sgy"])
    np.testing.assert_allclose(arrays["Format1msb.sgy"], reference, rtol=2.0**-20)
    np.testing.assert_allclose(arrays["Format2msb.sgy"], reference, atol=0.5)


@pytest.mark.parametrize(
    ("name", "samples"), [("rotated-small-rev2.sgy", 50), ("trace-header-extension1.sgy", 4)]
)
def test_revision_2_files_made_by_others(outside: Path, name: str, samples: int) -> None:
    """segyio 1.9 cannot open its own files with extra headers: checked by the IBM formula, word by word."""
    line = read_segy(outside / name, sample_interval_ns=1.0)
    raw = (outside / name).read_bytes()
    size = 480 + 4 * samples
    assert line.traces.shape == ((len(raw) - 3600) // size, samples)
    for k, trace in enumerate(line.traces):
        words = struct.unpack_from(f">{samples}I", raw, 3600 + k * size + 480)
        expected = [
            (-1) ** (w >> 31) * (w & 0xFFFFFF) / 2**24 * 16.0 ** ((w >> 24 & 127) - 64) for w in words
        ]
        np.testing.assert_allclose(trace, expected, rtol=1e-7)


def test_delay_with_scalar_is_divided(outside: Path) -> None:
    """Delay 10000 with scalar -10 is 1000 (segyio's delay-scalar.sgy): ns where intervals are in ps."""
    assert read_segy(outside / "delay-scalar.sgy").sample_start_ns == 1000.0


def test_a_file_that_breaks_its_promise_is_refused_with_counts(outside: Path) -> None:
    """segyio's broken.sgy holds no whole number of traces; the message says what is there."""
    with pytest.raises(
        ReadError, match=r"broken\.sgy: cut short in trace 4: 10836 bytes present, 11024 needed"
    ):
        read_segy(outside / "broken.sgy")


@pytest.mark.parametrize("survey", ["lane", "meadow", "plaza", "priory", "yard"])
def test_simulated_surveys_agree_with_the_reference_reader(surveys: Path, survey: str) -> None:
    """Samples, trigger numbers and times of every third line are what segyio reads from the same bytes."""
    paths = sorted((surveys / survey / "lines").glob("*.sgy"))[::3]
    assert paths
    for path in paths:
        line = read_segy(path)
        with segyio.open(path, ignore_geometry=True) as file:
            np.testing.assert_array_equal(line.traces, file.trace.raw[:].astype(np.float32))
            np.testing.assert_array_equal(line.trace_number, file.attributes(13)[:])
            milliseconds = file.attributes(233)[:]
            seconds = file.attributes(161)[:] * 3600 + file.attributes(163)[:] * 60 + file.attributes(165)[:]
        assert line.sample_interval_ns == pytest.approx(0.2)
        assert line.time_s is not None
        np.testing.assert_allclose(line.time_s % 86400, milliseconds / 1000, atol=1e-6)
        assert np.abs(line.time_s % 86400 - seconds).max() < 1.0
        assert any("picoseconds" in note for note in line.notes)


@pytest.mark.parametrize("order", [">", "<"])
@pytest.mark.parametrize("code", [2, 3, 5, 6, 8, 10, 11, 16])
def test_every_format_in_both_orders_gives_back_its_numbers(make, code: int, order: str) -> None:
    """Whole numbers that each format can hold come back exactly, whatever the byte order."""
    low = 0 if code in (10, 11, 16) else -100
    samples = np.random.default_rng(code).integers(low, 100, (7, 200))
    line = read_segy(make(samples, code=code, order=order))
    assert line.traces.dtype == np.float32
    assert line.traces.flags.c_contiguous
    np.testing.assert_array_equal(line.traces, samples)


@pytest.mark.parametrize("order", [">", "<"])
@pytest.mark.parametrize("code", [1, 2, 3, 5, 6, 8, 10, 11, 16])
def test_reference_library_writes_and_we_read(tmp_path: Path, code: int, order: str) -> None:
    """A file that segyio writes reads back to its numbers: an outside check of formats and byte orders."""
    spec = segyio.spec()
    spec.format, spec.samples, spec.tracecount, spec.endian = code, np.arange(300), 5, ORDERS[order]
    low = 0 if code in (10, 11, 16) else -100
    samples = np.random.default_rng(code).integers(low, 100, (5, 300))
    with segyio.create(tmp_path / "a.sgy", spec) as file:
        for k in range(5):
            file.trace[k] = samples[k].astype(file.dtype)
        file.bin.update(hdt=100)
    np.testing.assert_array_equal(read_segy(tmp_path / "a.sgy").traces, samples)


@pytest.mark.parametrize("revision", [b"\0\0", b"\0\1", b"\1\0", b"\0\x10", b"\2\0", b"\2\1"])
@pytest.mark.parametrize("texts", [0, 3])
def test_every_revision_with_and_without_extended_text(make, revision: bytes, texts: int) -> None:
    """Extended textual headers are skipped in every form of the revision field that is in use."""
    line = read_segy(make(revision=revision, texts=texts))
    assert line.traces.shape == (6, 200)
    assert line.traces[3, 7] == 607 % 100


def test_extended_text_up_to_the_end_stanza(make) -> None:
    """A count of -1 means as many as it takes to reach ((SEG: EndText)) (SEG-Y revision 1, section 6)."""
    path = make()
    raw = bytearray(path.read_bytes())
    raw[3504:3506] = b"\xff\xff"
    blocks = "((SEG: Note ver 1.0)) anything".ljust(3200) + "((SEG: EndText))".ljust(3200)
    path.write_bytes(bytes(raw[:3600]) + blocks.encode("cp037") + bytes(raw[3600:]))
    assert read_segy(path).traces.shape == (6, 200)
    path.write_bytes(bytes(raw))
    with pytest.raises(ReadError, match="end mark, which is missing"):
        read_segy(path)


def test_revision_2_extra_trace_headers_are_skipped_and_told(make) -> None:
    """Two additional headers a trace do not shift the samples, and the note says that they were skipped."""
    samples = np.arange(600.0).reshape(3, 200)
    line = read_segy(make(samples, revision=b"\2\0", extra=2))
    np.testing.assert_array_equal(line.traces, samples)
    assert any("additional trace headers skipped (2 a trace)" in note for note in line.notes)


def test_revision_2_counts_overrule_the_16_bit_fields(make) -> None:
    """Bytes 3269-3272 hold 70000 samples, beyond 16 bits; bytes 3273-3280 hold 0.00001 microseconds."""
    samples = np.tile(np.arange(70000.0), (2, 1))
    line = read_segy(
        make(samples, revision=b"\2\0", file={3269: ("i", 70000), 3273: ("d", 1e-5)}, interval=0)
    )
    assert line.traces.shape == (2, 70000)
    assert line.traces[1, 69999] == 69999
    assert line.sample_interval_ns == pytest.approx(0.01)


def test_revision_2_trailer_and_first_trace_offset(make) -> None:
    """Records after the last trace (bytes 3529-3532) are no traces; bytes 3521-3528 name the first."""
    path = make(revision=b"\2\0", file={3529: ("i", 1), 3521: ("Q", 3600)}, tail=bytes(3200))
    assert read_segy(path).traces.shape == (6, 200)


def test_one_trace_is_a_line(make) -> None:
    """A file of one trace is read; whether it is enough is not the reader's to judge."""
    assert read_segy(make(np.ones((1, 200)))).traces.shape == (1, 200)


def test_name_source_and_defaults(make) -> None:
    """The line is named after the file unless named; what headers do not hold is None."""
    path = make(name="M7.sgy")
    line = read_segy(path)
    assert isinstance(line, Line)
    assert (line.name, line.source) == ("M7", "M7.sgy")
    assert line.trace_number is None
    assert line.time_s is None
    assert line.header_xy is None
    assert read_segy(path, name="east").name == "east"


def test_cropped_traces_whose_headers_remember_the_old_length(make) -> None:
    """All trace headers say 462, the file header 200, and 200 fits: read, as segyio's Format files are so."""
    assert read_segy(make(trace={115: ("H", 462)})).traces.shape == (6, 200)


def test_file_header_without_or_with_a_wrong_count_yields_to_the_trace_headers(make) -> None:
    """A sample count of 0, or one that the length contradicts, yields to the trace headers, with a note."""
    for wrong in (0, 333):
        line = read_segy(make(file={3221: ("H", wrong)}))
        assert line.traces.shape == (6, 200)
        assert any("trace headers" in note for note in line.notes)


# ---- input that is wrong


def test_missing_empty_folder_and_short_files(tmp_path: Path) -> None:
    """Each says what is wrong, names the file, and is one line."""
    (tmp_path / "empty.sgy").touch()
    (tmp_path / "short.sgy").write_bytes(bytes(700))
    for name, words in (
        ("none.sgy", "no such file"),
        ("empty.sgy", "empty"),
        ("short.sgy", "700 bytes"),
        ("", "is a folder"),
    ):
        with pytest.raises(ReadError, match=words) as caught:
            read_segy(tmp_path / name)
        assert "\n" not in str(caught.value)
        assert (name or tmp_path.name) in str(caught.value)


def test_cut_short_says_what_is_there_and_what_should_be(make) -> None:
    """A file that ends inside its sixth trace: bytes present, bytes needed, whole traces."""
    path = make()
    path.write_bytes(path.read_bytes()[:-100])
    size = 3600 + 6 * 1040
    words = (
        rf"L01\.sgy: cut short in trace 6: {size - 100} bytes present, {size} needed .* 5 whole traces of 200"
    )
    with pytest.raises(ReadError, match=words):
        read_segy(path)


def test_headers_without_traces(make) -> None:
    """A file that ends after its headers has no traces, and says so."""
    path = make()
    path.write_bytes(path.read_bytes()[:3600])
    with pytest.raises(ReadError, match="no traces"):
        read_segy(path)


def test_revision_2_promise_of_more_traces(make) -> None:
    """Bytes 3513-3520 promise ten traces where six are."""
    with pytest.raises(ReadError, match="promises 10 traces of 200 samples, but there is room for 6"):
        read_segy(make(revision=b"\2\0", file={3513: ("Q", 10)}))


def test_unequal_traces_name_the_first_odd_one(make) -> None:
    """A trace of another length is named, whether or not the sum happens to fit."""
    lengths = [200, 200, 150, 200, 250, 200]
    with pytest.raises(ReadError, match=r"trace 3 has 150 samples where the traces before it have 200"):
        read_segy(make(trace={115: ("H", lengths)}))
    path = make(np.ones((4, 200)))
    short = make(np.ones((1, 120)), name="short.sgy").read_bytes()[3600:]
    path.write_bytes(path.read_bytes() + short)
    with pytest.raises(ReadError, match=r"trace 5 has 120 samples"):
        read_segy(path)


def test_a_trace_header_that_states_no_length_is_not_the_odd_one(make) -> None:
    """A count of 0 says nothing: alone it is no fault, and beside an odd trace it is not the one named."""
    assert read_segy(make(trace={115: ("H", [200, 0, 200, 0, 200, 200])})).traces.shape == (6, 200)
    with pytest.raises(ReadError, match="trace 3 has 150 samples"):
        read_segy(make(trace={115: ("H", [200, 0, 150, 200, 200, 200])}))


@pytest.mark.parametrize("code", [5, 6])
@pytest.mark.parametrize("bad", [np.nan, np.inf, -np.inf])
def test_samples_that_are_no_numbers_are_named_and_counted(make, code: int, bad: float) -> None:
    """NaN and infinity are refused: how many, in how many traces, where the first is."""
    samples = np.ones((6, 200))
    samples[3, 10:13] = bad
    samples[5, 0] = bad
    words = r"4 samples in 2 of 6 traces are not finite .* the first is sample 11 of trace 4"
    with pytest.raises(ReadError, match=words):
        read_segy(make(samples, code=code))


def test_ibm_values_beyond_float32_are_refused(make) -> None:
    """IBM floats reach 7.2e75; what float32 cannot hold is not clipped in silence."""
    words = np.full((2, 200), 0x41100000, dtype=np.uint32)
    words[1, 4] = 0x7FFFFFFF
    with pytest.raises(ReadError, match="sample 5 of trace 2"):
        read_segy(make(words, code=1))


def test_format_code_in_neither_order(make) -> None:
    """A format code that exists in neither byte order is told with both readings."""
    with pytest.raises(ReadError, match=r"neither byte order.* reads 77 big-endian and 19712 little-endian"):
        read_segy(make(file={3225: ("h", 77)}))


@pytest.mark.parametrize(
    ("code", "words"), [(4, "obsolete"), (7, "24-bit"), (9, "64-bit"), (12, "64-bit"), (15, "24-bit")]
)
def test_formats_that_exist_but_are_not_read(make, code: int, words: str) -> None:
    """A sample format of the standard that is not read is refused by name."""
    with pytest.raises(ReadError, match=words):
        read_segy(make(file={3225: ("h", code)}))


def test_byte_order_mark_may_not_contradict(make) -> None:
    """Bytes 3297-3300 say little-endian, the format code big-endian: refused; swapped pairs too."""
    with pytest.raises(ReadError, match="contradictory"):
        read_segy(make(revision=b"\2\0", file={3297: ("I", 0x04030201)}))
    with pytest.raises(ReadError, match="swapped in pairs"):
        read_segy(make(revision=b"\2\0", file={3297: ("I", 0x02010403)}))
    assert read_segy(make(revision=b"\2\0", file={3297: ("I", 0x01020304)}, order="<")).traces.shape == (
        6,
        200,
    )


@pytest.mark.parametrize(
    "file",
    [
        {3505: ("h", 32767)},
        {3505: ("h", -7)},
        {3507: ("H", 65535)},
        {3521: ("Q", 2**64 - 1)},
        {3521: ("Q", 10)},
        {3269: ("i", -1)},
        {3513: ("Q", 2**63)},
        {3529: ("i", 2**31 - 1)},
        {3529: ("i", -1)},
    ],
)
def test_hostile_counts_are_refused(make, file: dict) -> None:
    """Counts that no file of this length can hold are refused, not allocated."""
    with pytest.raises(ReadError, match=r"L01\.sgy: "):
        read_segy(make(revision=b"\2\0", file=file))


def test_hostile_sample_count_yields_to_trace_headers_that_fit(make) -> None:
    """Two thousand million samples a trace cannot be; the trace headers' 200 fits, and the note says so."""
    line = read_segy(make(revision=b"\2\0", file={3269: ("i", 2**31 - 1)}))
    assert line.traces.shape == (6, 200)
    assert any("2147483647 samples a trace, the trace headers 200" in note for note in line.notes)
    with pytest.raises(ReadError, match="cut short in trace 1"):
        read_segy(make(revision=b"\2\0", file={3269: ("i", 2**31 - 1)}, trace={115: ("H", 0)}))


def test_no_file_name_hides_behind_a_problem_of_its_headers(make) -> None:
    """Problems found in pure functions come out with the file's name."""
    with pytest.raises(
        ReadError,
        match=r"^L01\.sgy: no positive sample interval .* State sample_interval_ns in the site file",
    ):
        read_segy(make(interval=0))


def test_headers_read_lie_in_the_words_that_are_kept() -> None:
    """Every trace header field has its word among those copied from the file."""
    from gridmap.read import segy_layout

    kept = {word for rows in HELD_WORDS for word in range(rows.start, rows.stop)}
    fields = [value for name, value in vars(segy_layout).items() if name.startswith("T_")]
    flat = [f for field in fields for f in (field if isinstance(field[0], tuple) else (field,))]
    assert len(flat) > 15
    assert {(byte - 1) // 4 for byte, _ in flat} <= kept


def test_reading_loads_no_heavy_library() -> None:
    """Importing the room loads NumPy and nothing heavier."""
    code = (
        "import sys, gridmap.read; "
        "heavy = {'numba', 'scipy', 'segyio', 'rasterio', 'matplotlib'} & set(sys.modules); "
        "assert not heavy, heavy"
    )
    subprocess.run([sys.executable, "-c", code], check=True, cwd=Path(__file__).parents[2])
