"""Damage files at random: bytes of any file, and the parts that a format is made of (sentences, tags, cells, keys)."""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Sequence

import numpy as np

from benchmarks.place_files import sentence

MOST_BYTES = 200_000
HOSTILE = [0, 1, 2, 127, 128, 255, 32, 44, 45, 46, 48, 57, 10, 13]
NUMBERS = [0, 1, 2, -1, 127, 128, 255, 256, 32767, 32768, 65535, 65536]
NUMBERS += [2**31 - 1, 2**31, 2**32 - 1, 2**63 - 1]
WORDS = [
    b"nan",
    b"inf",
    b"-",
    b"1e999",
    b",,",
    b";",
    b"\t",
    b"\n",
    b"\r\n",
    b"\0",
    b"0x10",
    b"1_0",
    b"\xff\xfe",
    b"# ",
]

VALUES = (
    "", "0", "-0", "1", "-1", "4", "9", "0.0", ".", "-", "+5", "1e999", "-1e308", "1e-320", "nan", "inf", "1_0", "0x1f",
    "00", "99999999999999999999", "240000.00", "235960", "000000", "5960.0000", "9000.0000", "9000.0001", "18000.0000",
    "18000.0001", "N", "S", "E", "W", "M", "A", "V", "310299", "290223", "321324", "2024-02-30T25:61:61Z",
    "1969-12-31T23:59:59Z", "2024-04-06T09:12:03+14:00", "23:59:59.9999999999999", "24:00:00", "-180", "180", "90.0001",
    "\N{ARABIC-INDIC DIGIT THREE}", "\N{SUPERSCRIPT TWO}", "\N{ROMAN NUMERAL FIVE}", "\x7f",
    "x" * 300, "true", "none", "3d", "fix", "rtk", "&amp;", "&a;", "&#0;", "&#xFFFE;", "<trkpt>", "]]>", '"', "'", "#",
)  # fmt: skip
"""What a field, an attribute or a cell is made to hold."""

TOML_VALUES = (
    '""', '"x"', "0", "-1", "1e400", "nan", "-inf", "1_000_000_000_000", "99999999999999999999999",
    "0x7fffffffffffffff", "true", "[]", "[[]]", "[0, 0]", "[0, nan]", "[1e308, -1e308]", '["a", "b"]', "{}",
    "{ x = 1 }", '{ time = "x", x = 0 }', "1979-05-27T07:32:00Z", "'''\nrows\n'''", '"\\u0000"', '"../x"',
    '"/etc/passwd"', '"lines/../../x"', '"*"', '"lines/*"', '"[" ', '"lines/[a-"', '"~/x"', '"C:\\\\x"', '"FILL IN"',
    '"+x"', '"apply"', '"track"', '"wheel"', '"marks"', '"polyline"', '"EPSG:4326"', '"EPSG:999999"',
    "[" * 60 + "]" * 60, '"' + "y" * 5000 + '"', "[[1, 2], [3]]", "[[1, 0, 0], [2, 0, 1]]", "[1, 2, 3]",
    "[3, 2, 1, 1]", "1e-300", '"\N{RIGHT-TO-LEFT OVERRIDE}x"',
)  # fmt: skip
"""What a key of a site file is made to hold."""


def pick(choices: Sequence[str], random: np.random.Generator) -> str:
    """Take one of a sequence."""
    return choices[int(random.integers(len(choices)))]


def damage(content: bytes, others: list[bytes], random: np.random.Generator) -> bytes:
    """Change, cut, repeat, insert or splice at random, most often near the start, where headers are."""
    raw = bytearray(content)
    for _ in range(min(8, int(random.geometric(0.5)))):
        if not raw:
            break
        reach = min(len(raw), int(random.choice([64, 300, 4000, len(raw)])))
        at = int(random.integers(reach))
        act = random.integers(9)
        if act == 0:
            raw[at] = int(random.integers(256))
        elif act == 1:
            raw[at] = int(random.choice(HOSTILE))
        elif act == 2:
            raw[at] ^= 1 << int(random.integers(8))
        elif act in (3, 4):
            size = int(random.choice([1, 2, 4, 8]))
            value = int(NUMBERS[int(random.integers(len(NUMBERS)))]) % 2 ** (8 * size)
            order = "big" if random.integers(2) else "little"
            raw[at : at + size] = value.to_bytes(size, order)
        elif act == 5:
            word = WORDS[int(random.integers(len(WORDS)))]
            raw[at : at + int(random.integers(0, 3))] = word
        elif act == 6:
            del raw[at if random.integers(2) else max(0, len(raw) - at) :]
        elif act == 7:
            size = int(random.integers(1, 200))
            raw[at:at] = raw[at : at + size] * int(random.integers(1, 4))
        else:
            other = others[int(random.integers(len(others)))]
            start = int(random.integers(len(other)))
            raw[at : at + int(random.integers(0, 100))] = other[start : start + int(random.integers(1, 100))]
    return bytes(raw[:MOST_BYTES])


def mutate(kind: str, content: bytes, others: list[bytes], random: np.random.Generator) -> bytes:
    """Damage a file by its format; one in three by its bytes too, and one in five by them alone."""
    by_format = {"nmea": _sentences, "gpx": _tags, "points": _cells, "sitefile": _keys, "terrain": _tiff}
    if kind == "arrays":
        return _repacked(damage(content, others, random), random)
    if kind not in by_format or random.integers(5) == 0:
        return damage(content, others, random)
    act = by_format[kind]
    if kind == "terrain" and not content.startswith((b"II", b"MM")):
        act = _cells
    out = act(content, random)
    return damage(out, others, random) if out and random.integers(3) == 0 else out[:MOST_BYTES]


def _repacked(content: bytes, random: np.random.Generator) -> bytes:
    """Put a damaged .npy into a sound .npz now and then: its checksum would stop everything else."""
    if not content.startswith(b"\x93NUMPY") or random.integers(2):
        return content
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("a.npy", content)
        if random.integers(2):
            archive.writestr("time_ns.npy", content)
    return stream.getvalue()


def _times(random: np.random.Generator) -> range:
    return range(min(8, int(random.geometric(0.4))))


def _rearrange(parts: list[str], random: np.random.Generator) -> None:
    """Drop, repeat, exchange or move parts, in place."""
    a, b = (int(random.integers(len(parts))) for _ in range(2))
    act = random.integers(5)
    if act == 0 and len(parts) > 1:
        del parts[a]
    elif act == 1:
        parts[a:a] = [parts[b]] * int(random.integers(1, 5))
    elif act == 2:
        parts[a], parts[b] = parts[b], parts[a]
    elif act == 3:
        parts.insert(a, parts.pop(b))
    elif len(parts) > 3:
        del parts[min(a, b) : max(a, b)]


def _sentences(content: bytes, random: np.random.Generator) -> bytes:
    """Change fields of sentences, most with the checksum put right again, so that what is behind it is reached."""
    rows = content.decode("latin-1").split("\n")
    for _ in _times(random):
        if random.integers(3) == 0:
            _rearrange(rows, random)
            continue
        k = int(random.integers(len(rows)))
        body, star, _ = rows[k].strip().lstrip("$").partition("*")
        fields = body.split(",")
        at = int(random.integers(len(fields)))
        other = pick(rows, random).strip().lstrip("$").partition("*")[0].split(",")
        act = random.integers(4)
        if act == 0:
            fields[at] = other[min(at, len(other) - 1)]
        elif act == 1 and len(fields) > 1:
            _rearrange(fields, random)
        else:
            fields[at] = pick(VALUES, random).encode("utf-8").decode("latin-1")
        body = ",".join(fields)
        rows[k] = sentence(body) if star and random.integers(5) else f"${body}*{random.integers(256):02X}"
    return "\n".join(rows).encode("latin-1", "replace")


def _tags(content: bytes, random: np.random.Generator) -> bytes:
    """Drop, repeat and exchange tags and texts, and change attributes and texts."""
    wide = content[:2] in (b"\xff\xfe", b"\xfe\xff")
    parts = re.findall(r"<[^>]*>|[^<]+", content.decode("utf-16" if wide else "utf-8"))
    for _ in _times(random):
        k = int(random.integers(len(parts)))
        if random.integers(2):
            _rearrange(parts, random)
        elif random.integers(8) == 0:
            parts.insert(
                k, pick(["<!DOCTYPE x [<!ENTITY a 'b'>]>", "<x>" * 60, "<!--", "<?xml?>", "<trkpt/>"], random)
            )
        elif '"' in parts[k]:
            parts[k] = re.sub(
                r'"[^"]*"', f'"{pick(VALUES, random)}"', parts[k], count=int(random.integers(1, 3))
            )
        else:
            parts[k] = pick(VALUES, random)
    return "".join(parts).encode("utf-16" if wide else "utf-8", "replace")


def _cells(content: bytes, random: np.random.Generator) -> bytes:
    """Change cells, rows, headings and delimiters of delimited text."""
    wide = content[:2] in (b"\xff\xfe", b"\xfe\xff")
    text = content.decode("utf-16") if wide else content.decode("utf-8", "replace")
    mark = next((m for m in ("\t", ";", ",", " ") if m in text), ",")
    rows = text.split("\n")
    headings = [
        "time",
        "date",
        "x",
        "y",
        "easting",
        "northing",
        "lon",
        "lat",
        "height",
        "quality",
        "sd",
        "name",
        "line",
    ]
    for _ in _times(random):
        k = int(random.integers(min(len(rows), 3) if random.integers(3) == 0 else len(rows)))
        cells = rows[k].split(mark)
        at = int(random.integers(len(cells)))
        act = random.integers(6)
        if act == 0:
            _rearrange(rows, random)
            continue
        if act == 1:
            _rearrange(cells, random)
        elif act == 2:
            cells[at] = pick(headings, random)
        elif act == 3:
            mark = pick(["\t", ";", ",", " "], random)
        else:
            cells[at] = pick(VALUES, random)
        rows[k] = mark.join(cells)
    return "\n".join(rows).encode("utf-16" if wide else "utf-8", "replace")


def _keys(content: bytes, random: np.random.Generator) -> bytes:
    """Change values, keys, rows and tables of a site file."""
    rows = content.decode("utf-8").split("\n")
    held = [row for row in rows if "=" in row] or ["a = 1"]
    for _ in _times(random):
        k = int(random.integers(len(rows)))
        key, same, _ = rows[k].partition("=")
        act = random.integers(6)
        if act == 0:
            _rearrange(rows, random)
        elif act == 1:
            rows.insert(k, pick(held, random))
        elif not same:
            rows[k] = pick([*(r for r in rows if r.startswith("[")), "[x]", "[[site]]", "[line]"], random)
        elif act == 2:
            rows[k] = f"{pick(held, random).partition('=')[0]}={rows[k].partition('=')[2]}"
        elif act == 3:
            rows[k] = f"{key}={pick(held, random).partition('=')[2]}"
        else:
            rows[k] = f"{key}= {pick(TOML_VALUES, random)}"
    return "\n".join(rows).encode("utf-8", "replace")


def _tiff(content: bytes, random: np.random.Generator) -> bytes:
    """Change tag, type, count and value of the entries of the first directory (TIFF 6.0; BigTIFF only by bytes)."""
    raw = bytearray(content)
    if raw[2] != 42:
        return bytes(raw)
    at = int.from_bytes(raw[4:8], "little")
    entries = int.from_bytes(raw[at : at + 2], "little")
    for _ in _times(random):
        place = at + 2 + 12 * int(random.integers(entries))
        part, size = ((0, 2), (2, 2), (4, 4), (8, 4))[int(random.choice(4, p=[0.1, 0.15, 0.25, 0.5]))]
        value = (
            int(NUMBERS[int(random.integers(len(NUMBERS)))])
            if random.integers(2)
            else int(random.integers(1 << 16))
        )
        raw[place + part : place + part + size] = (value % 2 ** (8 * size)).to_bytes(size, "little")
    return bytes(raw)
