"""What the file header of a SEG-Y file says: byte order, revision, sample format."""

from __future__ import annotations

from dataclasses import dataclass

from gridmap.errors import ReadError
from gridmap.read import segy_layout as at
from gridmap.read.segy_layout import FORMATS, ByteOrder, SampleFormat, file_field
from gridmap.read.segy_text import decode_text

KNOWN = FORMATS.keys() | at.REFUSED_FORMATS.keys()
"""Sample format codes that exist in the standard."""


@dataclass(frozen=True, slots=True)
class Layout:
    """Where the traces of one file lie, checked against its length.

    Attributes
    ----------
    source : str
        The file, as a message names it.
    head : bytes
        The first 3600 bytes.
    order : ">" or "<"
        Byte order of headers and samples.
    revision : (int, int)
        Major and minor revision.
    sample_format : SampleFormat
        How a sample is stored.
    samples, traces : int
        Samples in each trace; traces in the file.
    first_trace : int
        Offset of the first trace from the start of the file, bytes.
    extra_headers : int
        Additional 240-byte headers before the samples of each trace (revision 2).
    notes : tuple of str
        What was assumed.
    """

    source: str
    head: bytes
    order: ByteOrder
    revision: tuple[int, int]
    sample_format: SampleFormat
    samples: int = 0
    first_trace: int = at.FILE_HEADER_BYTES
    extra_headers: int = 0
    traces: int = 0
    notes: tuple[str, ...] = ()

    @property
    def header_bytes(self) -> int:
        """Bytes from the start of a trace to its first sample."""
        return at.TRACE_HEADER_BYTES * (1 + self.extra_headers)

    @property
    def trace_bytes(self) -> int:
        """Bytes from the start of a trace to the start of the next."""
        return self.header_bytes + self.samples * self.sample_format.width


def looks_like_segy(head: bytes) -> bool:
    """Say whether a file starts like SEG-Y: with a sample format that exists, or a text header of cards."""
    if len(head) < at.FILE_HEADER_BYTES:
        return False
    if any(code in KNOWN for code in (file_field(head, at.FORMAT, ">"), file_field(head, at.FORMAT, "<"))):
        return True
    text = decode_text(head[: at.TEXT_BYTES])
    return text[:1] == "C" and text[1:3].strip().isdigit() and text[80:81] == "C"


def file_header(head: bytes, source: str) -> Layout:
    """Read what the first 3600 bytes say by themselves; where the traces lie is still open.

    Raises
    ------
    ReadError
        If the byte order cannot be told, or the sample format is not read.
    """
    order = find_order(head, source)
    revision, notes = find_revision(head)
    code = file_field(head, at.FORMAT, order)
    if code in at.REFUSED_FORMATS:
        raise ReadError(
            f"{source}: sample format {code} ({at.REFUSED_FORMATS[code]}) is not read. Re-export with IEEE "
            "float samples (format 5)."
        )
    return Layout(source, head, order, revision, FORMATS[code], notes=notes)


def find_order(head: bytes, source: str) -> ByteOrder:
    """Find the byte order: that in which the sample format code exists; bytes 3297-3300 may not contradict.

    The mark in bytes 3297-3300 came with revision 2 and is 0 in most files of either order, so it cannot
    decide alone. A code of 1 to 16 read in the wrong order is 256 or more, so at most one order fits.
    """
    big, little = file_field(head, at.FORMAT, ">"), file_field(head, at.FORMAT, "<")
    mark = head[3296:3300]
    if mark in (b"\x02\x01\x04\x03", b"\x03\x04\x01\x02"):
        raise ReadError(
            f"{source}: bytes are swapped in pairs (bytes 3297-3300), which is not read. Re-export the "
            "file big-endian."
        )
    if big not in KNOWN and little not in KNOWN:
        raise ReadError(
            f"{source}: looks like SEG-Y in neither byte order: the sample format code (bytes 3225-3226) "
            f"reads {big} big-endian and {little} little-endian, and neither exists. Check that it is "
            "SEG-Y; if so, re-export it big-endian with IEEE float samples (format 5)."
        )
    order: ByteOrder = ">" if big in KNOWN else "<"
    other = at.ORDER_MARK[::-1] if order == ">" else at.ORDER_MARK
    if mark == other:
        raise ReadError(
            f"{source}: byte order is contradictory: bytes 3297-3300 say one order, the sample format code "
            "the other. Re-export the file big-endian."
        )
    return order


def find_revision(head: bytes) -> tuple[tuple[int, int], tuple[str, ...]]:
    """Read bytes 3501-3502: major and minor, or the 16-bit forms in use (1, 16 and 256 all mean 1.0)."""
    major, minor = head[3500], head[3501]
    if (major, minor) in ((0, 16), (16, 0)):
        return (1, 0), ()
    if major == 0 and minor in (1, 2):
        return (minor, 0), ()
    if (major == 0 and minor == 0) or major in (1, 2):
        return (major, minor), ()
    return (1, 0), (f"revision field holds {major}.{minor}, which does not exist; read as revision 1.0",)
