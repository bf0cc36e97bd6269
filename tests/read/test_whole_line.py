"""How much of a file is there, told from its structure alone."""

import hashlib
import io
import zipfile

import numpy as np
import pytest

from benchmarks.line_files import write_seg2
from gridmap.read.segy_write import write_segy
from gridmap.read.whole_line import look_at_line

RNG = np.random.default_rng(11)
TRACES = (RNG.standard_normal((12, 64)) * 100).astype(np.float32)


@pytest.fixture
def segy(tmp_path):
    path = tmp_path / "a.sgy"
    write_segy(path, TRACES, sample_interval_ps=200)
    return path, path.read_bytes()


def test_segy_is_whole_only_at_the_end_of_a_trace(segy):
    """Every length but those that end a trace is told as a part; SEG-Y revision 1 has no count of traces."""
    path, data = segy
    trace = 240 + 4 * 64
    for size in [
        *range(1, 3600, 257),
        *range(3600, len(data) + 1, 31),
        *range(3600 + trace, len(data) + 1, trace),
    ]:
        path.write_bytes(data[:size])
        whole = size > 3600 and (size - 3600) % trace == 0
        assert (look_at_line(path).state == "whole") == whole, size


def test_segy_laid_out_at_full_length_first_is_a_part_until_it_is_filled(segy):
    """Trace headers that are empty where others are not, and a tail or a stretch of zeros, are seen."""
    path, data = segy
    for filled in range(0, len(data) - 64, 97):
        path.write_bytes(data[:filled].ljust(len(data), b"\0"))
        assert look_at_line(path).state != "whole", filled
    path.write_bytes(data[:7000] + bytes(2000) + data[9000:])
    assert look_at_line(path).state == "part"


def test_hole_within_samples_is_doubted(tmp_path):
    """A block of zeros between trace headers may be a dead trace or a part not copied yet."""
    path = tmp_path / "a.sgy"
    write_segy(path, np.ones((3, 4000), np.float32), sample_interval_ps=100)
    data = bytearray(path.read_bytes())
    assert look_at_line(path).state == "whole"
    data[8192:16384] = bytes(8192)
    path.write_bytes(data)
    look = look_at_line(path)
    assert look.state == "unsure"
    assert "zeros" in look.why


def test_seg2_cut_anywhere_is_a_part(tmp_path):
    """SEG-2 states where every trace lies, so no shorter file is whole."""
    path = tmp_path / "a.sg2"
    write_seg2(path, TRACES)
    data = path.read_bytes()
    assert look_at_line(path).state == "whole"
    for size in range(40, len(data), 53):
        path.write_bytes(data[:size])
        assert look_at_line(path).state in ("part", "unknown"), size


@pytest.mark.parametrize("pack", ["npy", "npz"])
def test_array_files_cut_anywhere_are_parts(tmp_path, pack):
    """An array states its shape, an archive its list at the end."""
    buffer = io.BytesIO()
    (np.save if pack == "npy" else np.savez)(buffer, TRACES)
    data, path = buffer.getvalue(), tmp_path / f"a.{pack}"
    path.write_bytes(data)
    assert look_at_line(path).state == "whole"
    for size in range(1, len(data), 41):
        path.write_bytes(data[:size])
        assert look_at_line(path).state in ("part", "unknown"), size
    if pack == "npz":
        with zipfile.ZipFile(path, "w") as archive:
            archive.writestr("a.npy", b"x")
        assert look_at_line(path).state == "whole"  # that it holds no array is for the reader to say


def test_text_that_ends_within_a_row_is_not_whole(tmp_path):
    """A row that is cut has fewer cells, or no end."""
    path = tmp_path / "a.csv"
    rows = [",".join(f"{v:.3f}" for v in row) for row in TRACES]
    text = "\n".join(rows) + "\n"
    for size in range(len(rows[0]) + 1, len(text), 37):
        path.write_text(text[:size], newline="\n")
        look = look_at_line(path)
        assert (look.state == "whole") == text[:size].endswith("\n"), (size, look)


def test_what_is_no_line_file_is_unknown_and_nothing_is_raised(tmp_path):
    """A missing file, an empty one, a folder and foreign bytes are told, not raised."""
    (tmp_path / "empty").write_bytes(b"")
    (tmp_path / "photo").write_bytes(b"\xff\xd8\xff\xe0" + bytes(range(256)) * 30)
    assert look_at_line(tmp_path / "empty").state == "part"
    for name in ("missing", "photo", "."):
        look = look_at_line(tmp_path / name)
        assert look.state == "unknown"
        assert look.why


def test_digest_is_the_sha256_of_the_bytes(segy):
    """Equal bytes have the digest that hashlib gives; one bit more, another."""
    path, data = segy
    assert look_at_line(path).digest == hashlib.sha256(data).hexdigest()
