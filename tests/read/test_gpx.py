"""Tracks of GPX documents."""

from __future__ import annotations

from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gridmap.errors import ReadError
from gridmap.model import Track
from gridmap.read.gpx import read_gpx

HEAD = '<?xml version="1.0" encoding="UTF-8"?>\n<gpx version="1.1" creator="t" xmlns="http://www.topografix.com/GPX/1/1">'
POINT = (
    '<trkpt lat="51.5" lon="-3.98"><ele>63.1</ele><time>2024-04-06T09:12:03.2Z</time><fix>dgps</fix></trkpt>'
)


def document(*points: str, head: str = HEAD) -> str:
    return f"{head}<trk><trkseg>{''.join(points)}</trkseg></trk></gpx>"


def read(tmp_path: Path, text: str | bytes) -> Track:
    path = tmp_path / "t.gpx"
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    return read_gpx(path)


def point(time: str, lat: float = 51.5, lon: float = -3.98, more: str = "") -> str:
    return f'<trkpt lat="{lat}" lon="{lon}"><time>{time}</time>{more}</trkpt>'


def test_a_track_point_is_read_field_by_field(tmp_path):
    """Place, height, time and fix of one point; fix words by the GPX 1.1 schema (none, 2d, 3d, dgps, pps)."""
    track = read(
        tmp_path, document(POINT, point("2024-04-06T09:12:04Z", more="<geoidheight>46.1</geoidheight>"))
    )
    assert track.place.tolist() == [[-3.98, 51.5], [-3.98, 51.5]]
    assert track.height_m[0] == 63.1
    assert track.geoid_m[1] == 46.1
    assert track.quality.tolist() == [2, -1]
    assert np.datetime64(int(track.time_s[0]), "s") == np.datetime64("2024-04-06T09:12:03")
    assert np.diff(track.time_s) == pytest.approx([0.8], abs=1e-5)


def test_the_same_numbers_as_an_independent_walk_over_the_tree(tmp_path):
    """ElementTree's own tree of a document gives the same points."""
    text = document(
        *(point(f"2024-04-06T09:12:{s:02}Z", 51.5 + s * 1e-6, -3.98 - s * 1e-6) for s in range(30))
    )
    space = "{http://www.topografix.com/GPX/1/1}"
    theirs = [
        (float(p.get("lon")), float(p.get("lat")))
        for p in ElementTree.fromstring(text.encode()).iter(f"{space}trkpt")
    ]
    assert read(tmp_path, text).place.tolist() == [list(pair) for pair in theirs]


@pytest.mark.parametrize(
    ("written", "utc"),
    [
        ("2024-02-29T23:59:59.5Z", "2024-02-29T23:59:59"),
        ("2024-03-01T01:30:00+02:00", "2024-02-29T23:30:00"),
        ("2023-12-31T22:00:00-03:30", "2024-01-01T01:30:00"),
        ("2024-03-01T01:30:00", "2024-03-01T01:30:00"),
    ],
)
def test_zones_are_taken_to_utc(written, utc, tmp_path):
    """XML Schema dateTime with Z, with an offset, and without (taken as UTC and told)."""
    track = read(tmp_path, document(point(written)))
    assert np.datetime64(int(track.time_s[0]), "s") == np.datetime64(utc)
    assert any("without a zone" in note for note in track.notes) == (len(written) == 19)


def test_what_cannot_be_placed_in_time_is_counted(tmp_path):
    """Points without a time, without a fix, with latitude 91 or with nonsense times are left out and told."""
    track = read(
        tmp_path,
        document(
            POINT,
            '<trkpt lat="51" lon="1"/>',
            point("2024-04-06T09:12:05Z", lat=91),
            point("yesterday"),
            point("2024-02-30T09:12:05Z"),
            point("2024-04-06T09:12:05Z", more="<fix>none</fix>"),
        ),
    )
    assert len(track.time_s) == 1
    said = " ".join(track.notes)
    assert "1 track points without a time" in said
    assert "1 track points without latitude and longitude" in said
    assert "2 track points with a time that is not understood" in said
    assert "1 track points without a fix" in said


def test_a_bomb_of_entities_is_refused_unread(tmp_path):
    """The billion laughs and an outside entity are refused at the document type, before any is expanded."""
    laughs = "".join(
        f'<!ENTITY l{n} "{"&l" + str(n - 1) + ";" if n else "ha"}{"ha" * 10}">' for n in range(10)
    )
    for inside in (laughs, '<!ENTITY x SYSTEM "file:///etc/hostname">'):
        head = HEAD.replace("<gpx", f"<!DOCTYPE gpx [{inside}]><gpx")
        with pytest.raises(ReadError, match="document type"):
            read(tmp_path, document(point("&l9;"), head=head))


def test_deep_nesting_is_refused(tmp_path):
    """A hundred thousand elements inside each other end at forty."""
    with pytest.raises(ReadError, match="inside each other"):
        read(tmp_path, HEAD + "<extensions>" * 100_000)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (document(POINT)[:150], "cut off|not well formed"),
        ("<kml/>", "not <gpx>"),
        (document(), "no track point"),
        ('<?xml version="1.0" encoding="klingon"?><gpx/>', "encoding|not well formed"),
        (b"\xff\xfe\x00", "not well formed|cut off|encoding"),
        ("", "cut off|not well formed"),
    ],
)
def test_other_documents_are_refused_in_one_row(text, said, tmp_path):
    """Cut off, another root, empty, of an unknown encoding: each is told."""
    with pytest.raises(ReadError, match=said) as caught:
        read(tmp_path, text)
    assert "\n" not in str(caught.value)


BITS = st.sampled_from(
    [
        HEAD,
        POINT,
        document(POINT),
        "<trk>",
        "</trk>",
        "<trkseg>",
        "</gpx>",
        "<!DOCTYPE gpx>",
        "&amp;",
        "&x;",
        "<![CDATA[",
        "]]>",
        '<trkpt lat="1e400" lon="nan">',
        "<time>",
        "<ele>-1e99</ele>",
        "\x00",
    ]
)


@given(parts=st.lists(st.one_of(st.binary(max_size=30), BITS.map(str.encode)), max_size=10))
@settings(max_examples=300, deadline=None)
def test_any_bytes_give_an_error_of_ours_or_a_track(parts, tmp_path_factory):
    """Whatever the bytes, the answer is a track of places on Earth, or one ReadError row."""
    path = tmp_path_factory.getbasetemp() / "any.gpx"
    path.write_bytes(b"".join(parts))
    try:
        track = read_gpx(path)
    except ReadError as error:
        assert "\n" not in str(error)
        return
    assert (np.diff(track.time_s) > 0).all()
    assert (np.abs(track.place) <= (180, 90)).all()


@given(position=st.integers(0, 400), patch=st.binary(min_size=1, max_size=3))
@settings(max_examples=300, deadline=None)
def test_a_mutated_document_gives_an_error_of_ours_or_a_track(position, patch, tmp_path_factory):
    """Bytes overwritten anywhere in a right document never give a traceback."""
    path = tmp_path_factory.getbasetemp() / "mutated.gpx"
    raw = document(POINT, point("2024-04-06T09:12:04Z")).encode()
    path.write_bytes(raw[:position] + patch + raw[position + len(patch) :])
    try:
        assert len(read_gpx(path).time_s) > 0
    except ReadError as error:
        assert "\n" not in str(error)
