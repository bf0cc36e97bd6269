"""Tracks of NMEA 0183 sentences."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gridmap.errors import ReadError
from gridmap.model import IDENTITY, Track
from gridmap.place.crs import projected_crs
from gridmap.place.local_track import local_track
from gridmap.read.nmea import checksum, read_nmea
from gridmap.read.track import read_track

GGA = "GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,"
RMC = "GPRMC,123519,A,4807.038,N,01131.000,E,022.4,084.4,230394,003.1,W"

SAMPLE_LOG = (
    b"$GPGGA,184353.07,1929.045,S,02410.506,E,1,04,2.6,100.00,M,-33.9,M,,0000*6D\r\n"
    b"$GPRTE,2,1,c,0,PBRCPK,PBRTO,PTELGR,PPLAND,PYAMBU,PPFAIR,PWARRN,PMORTL,PLISMR*73\r\n"
    b"$GPR00,A,B,C*29\r\n"
    b"foobar\r\n"
    b"$IIMWV,271.0,R,000.2,N,A*3B"
)
"""The sample log in the source package of pynmea2 1.19.0 (examples/data.log, MIT licence)."""


def sentence(body: str) -> str:
    return f"${body}*{checksum(body.encode()):02X}"


def gga(clock: str, latitude: str = "5133.4845,N", longitude: str = "00358.9606,W", quality: int = 4) -> str:
    return sentence(f"GPGGA,{clock},{latitude},{longitude},{quality},17,0.7,63.1,M,46.1,M,1.0,0123")


def read(tmp_path: Path, *rows: str, end: str = "\r\n") -> Track:
    path = tmp_path / "t.nmea"
    path.write_bytes(end.join(rows).encode("latin-1"))
    return read_nmea(path)


def test_the_worked_gga_of_the_trade_notes(tmp_path):
    """48.117300 N, 11.516667 E, 592.3 m above the ellipsoid; trade.md 3.2 (seen; calc), checksum 47."""
    assert sentence(GGA).endswith("*47")
    track = read(tmp_path, sentence(GGA))
    assert track.place[0] == pytest.approx([11.516667, 48.117300], abs=5e-7)
    assert track.height_m[0] + track.geoid_m[0] == pytest.approx(592.3)
    assert (track.quality.tolist(), track.dated, track.frame) == ([1], False, "degrees")
    assert track.time_s[0] == 12 * 3600 + 35 * 60 + 19


def test_the_worked_rmc_of_the_trade_notes(tmp_path):
    """23 March 1994 with checksum 6A; trade.md 3.2 (seen; calc). The GGA beside it is dated by it."""
    assert sentence(RMC).endswith("*6A")
    track = read(tmp_path, sentence(GGA), sentence(RMC))
    assert track.dated
    assert np.datetime64(int(track.time_s[0]), "s") == np.datetime64("1994-03-23T12:35:19")
    assert len(track.time_s) == 1
    alone = read(tmp_path, sentence(RMC))
    assert alone.place[0] == pytest.approx([11.516667, 48.117300], abs=5e-7)
    assert math.isnan(alone.height_m[0])


def test_a_general_parser_reads_its_own_sample_log_to_the_same_numbers(tmp_path):
    """pynmea2 and we give one position for its sample log; the rest is counted."""
    pynmea2 = pytest.importorskip("pynmea2")
    path = tmp_path / "data.log"
    path.write_bytes(SAMPLE_LOG)
    track = read_nmea(path)
    theirs = pynmea2.parse(SAMPLE_LOG.decode().splitlines()[0], check=True)
    assert track.place.tolist() == [pytest.approx([theirs.longitude, theirs.latitude], abs=1e-12)]
    assert theirs.latitude < 0
    assert track.height_m[0] == theirs.altitude
    assert track.geoid_m[0] == float(theirs.geo_sep)
    clock = theirs.timestamp
    seconds = clock.hour * 3600 + clock.minute * 60 + clock.second + clock.microsecond / 1e6
    assert track.time_s[0] == pytest.approx(seconds, abs=1e-6)
    assert "3 sentences of other kinds passed over" in track.notes
    assert "1 lines that are no sentence, left out" in track.notes


def test_every_fix_of_the_lane_agrees_with_a_general_parser(surveys):
    """All 647 positions, heights and qualities of the lane's track are those of pynmea2."""
    pynmea2 = pytest.importorskip("pynmea2")
    path = surveys / "lane" / "track.nmea"
    track = read_nmea(path)
    theirs = [pynmea2.parse(row, check=True) for row in path.read_text().split()]
    assert len(track.time_s) == len(theirs) == 647
    assert np.abs(track.place - [[m.longitude, m.latitude] for m in theirs]).max() < 1e-12
    assert track.height_m.tolist() == [m.altitude for m in theirs]
    assert track.quality.tolist() == [m.gps_qual for m in theirs]


SAMPLES = (
    "$GPRMC,225446,A,4916.45,N,12311.12,W,000.5,054.7,191194,020.3,E*68",
    "$GPRMC,181031.576,V,3926.276,N,07739.361,W,99.7,18.30,250915,,E*79",
    "$GPRMC,123519.00,,4807.038,N,01131.000,E,,,230394,,*72",
    "$GPRMC,123519.00,A,4807.038,N,01131.000,E,,,230394,,*33",
    "$GPRMC,123519.00,A,4807.038,N,01131.000,E,,,230394,,,N*51",
    "$GPRMC,123519.00,A,4807.038,N,01131.000,E,,,230394,,,S*4C",
    "$GPRMC,123519.00,A,4807.038,N,01131.000,E,,,230394,,,N,A*3C",
    "$GPRMC,123519.00,V,4807.038,N,01131.000,E,,,230394,,,S,A*36",
    "$GPGGA,184353.07,1929.045,S,02410.506,E,1,04,2.6,200.0,M,-33.9,M,,0000*5E",
    "$GPGGA,181032.576,3926.276,N,07739.361,W,0,00,,,M,,M,,*5F",
    "$GPGGA,181035.576,3949.797,N,07809.854,W,0,00,,,M,,M,,*5A",
    "$GPGGA,201716.684,,,,,0,00,,,M,0.0,M,,0000*5F",
)
"""Sentences of pynmea2 1.19.0's own tests: test/test_types.py, test_file.py and test_pynmea.py."""


@pytest.mark.parametrize("row", SAMPLES)
def test_a_general_parser_judges_its_own_samples_alike(row, tmp_path):
    """What pynmea2 calls a valid fix is read to its numbers; what it does not, is no fix here either."""
    pynmea2 = pytest.importorskip("pynmea2")
    theirs = pynmea2.parse(row, check=True)
    if not theirs.is_valid:
        with pytest.raises(ReadError, match="1 sentences without a fix"):
            read(tmp_path, row)
        return
    track = read(tmp_path, row)
    assert track.place[0] == pytest.approx([theirs.longitude, theirs.latitude], abs=1e-12)
    clock = theirs.timestamp
    seconds = clock.hour * 3600 + clock.minute * 60 + clock.second + clock.microsecond / 1e6
    assert track.time_s[0] % 86400 == pytest.approx(seconds, abs=1e-5)
    if row.startswith("$GPRMC"):
        day = np.datetime64(int(track.time_s[0]), "s").astype("datetime64[D]")
        assert day == np.datetime64(theirs.datestamp)


def test_degrees_with_decimals_are_no_ddmm(tmp_path):
    """37.352387 for ddmm.mmm (pynmea2 1.19.0, test/test_utils.py) is left out, not read as 0.6 degrees."""
    odd = "$GPGGA,161405.680,37.352387,N,121.953086,W,1,10,0.01,-110.342552,M,0.000000,M,,0000,*4E"
    track = read(tmp_path, odd, gga("161406"))
    assert len(track.time_s) == 1
    assert "1 sentences not understood, left out" in track.notes


@pytest.mark.parametrize("encoding", ["utf-16", "utf-8-sig", "cp1252", "cp1140"])
def test_a_log_in_another_encoding_is_read_or_refused(encoding, tmp_path):
    """UTF-16 and UTF-8 with a mark, and Western European remarks, read alike; EBCDIC is refused in one row."""
    path = tmp_path / "t.nmea"
    text = "\r\n".join(["# Stra\N{LATIN SMALL LETTER SHARP S}e", gga("091203.00"), gga("091203.20")])
    path.write_bytes(text.encode(encoding))
    if encoding == "cp1140":
        with pytest.raises(ReadError) as caught:
            read_track(path)
        assert "\n" not in str(caught.value)
        return
    track = read_track(path)
    assert track.time_s.tolist() == pytest.approx([33123.0, 33123.2])
    assert "1 lines that are no sentence, left out" in track.notes


def test_gst_gives_deviations_north_and_east_in_their_columns(tmp_path):
    """Field 6 of GST is latitude, 7 longitude, 8 altitude (open field list of NMEA 0183), in metres."""
    gst = sentence("GPGST,123519,0.006,0.023,0.020,273.6,0.023,0.020,0.031")
    track = read(tmp_path, sentence(GGA), gst)
    assert track.sd_m.tolist() == [[0.020, 0.023, 0.031]]
    pynmea2 = pytest.importorskip("pynmea2")
    theirs = pynmea2.parse(gst)
    assert track.sd_m[0].tolist() == [
        theirs.std_dev_longitude,
        theirs.std_dev_latitude,
        theirs.std_dev_altitude,
    ]


def test_wrong_checksums_are_counted_and_left_out(tmp_path):
    """One changed digit costs its fix, and the note says so; so does a sentence cut off in the middle."""
    rows = [
        gga("091203.00"),
        gga("091203.20").replace("5133", "5134", 1),
        gga("091203.40")[:40],
        gga("091203.60"),
    ]
    track = read(tmp_path, *rows)
    assert track.time_s.tolist() == pytest.approx([33123.0, 33123.6])
    assert "1 sentences with a wrong checksum, left out" in track.notes
    assert "1 sentences without a checksum, left out" in track.notes


@given(position=st.integers(1, 72), value=st.integers(33, 126))
@settings(max_examples=300, deadline=None)
def test_no_single_changed_character_changes_a_place(position, value, tmp_path_factory):
    """A sentence with one character changed is left out or reads to the same numbers."""
    folder = tmp_path_factory.mktemp("nmea")
    good = [gga("091203.00"), gga("091203.40")]
    middle = gga("091203.20", "5133.9999,N")
    position = min(position, len(middle) - 1)
    spoilt = middle[:position] + chr(value) + middle[position + 1 :]
    track = read(folder, good[0], spoilt, good[1])
    right = read(folder, good[0], middle, good[1])
    if len(track.time_s) == 3:
        assert np.array_equal(track.place, right.place)
        assert np.array_equal(track.time_s, right.time_s)
    else:
        assert track.place.tolist() == right.place[[0, 2]].tolist()


def test_the_clock_leaps_over_midnight(tmp_path):
    """Undated times go on above 86 400; dated ones take the new date of RMC, whether before or after the GGA."""
    rows = [gga("235959.60"), gga("235959.80"), gga("000000.00"), gga("000000.20")]
    track = read(tmp_path, *rows)
    assert track.time_s.tolist() == pytest.approx([86399.6, 86399.8, 86400.0, 86400.2])
    assert any("midnight" in note for note in track.notes)
    place = "A,5133.4845,N,00358.9606,W,0.1,0.0"
    rmc = [sentence(f"GPRMC,235959.60,{place},281123,,"), sentence(f"GPRMC,000000.00,{place},291123,,")]
    dated = read(tmp_path, rmc[0], *rows[:3], rmc[1], rows[3])
    assert dated.dated
    assert np.diff(dated.time_s).tolist() == pytest.approx([0.2, 0.2, 0.2])
    assert np.datetime64(int(dated.time_s[-1]), "s") == np.datetime64("2023-11-29T00:00:00")
    late = read(tmp_path, *rows, sentence(f"GPRMC,000000.40,{place},291123,,"))
    assert late.time_s.tolist() == pytest.approx(dated.time_s.tolist())


def test_a_sentence_out_of_order_at_midnight_stays_in_its_day(tmp_path):
    """A fix of 23:59:59.8 that comes after the one of 00:00:00 is put before it, not a day later."""
    track = read(tmp_path, gga("235959.60"), gga("000000.00"), gga("235959.80"), gga("000000.20"))
    assert track.time_s.tolist() == pytest.approx([86399.6, 86399.8, 86400.0, 86400.2])
    assert any("out of the order" in note for note in track.notes)


def test_hemispheres_change_on_the_way(tmp_path):
    """A walk over the equator and the zero meridian goes on evenly."""
    track = read(
        tmp_path,
        gga("120000", "0000.0010,N", "00000.0010,W"),
        gga("120001", "0000.0000,N", "00000.0000,E"),
        gga("120002", "0000.0010,S", "00000.0010,E"),
    )
    assert np.diff(track.place[:, 0]) == pytest.approx([0.001 / 60] * 2)
    assert np.diff(track.place[:, 1]) == pytest.approx([-0.001 / 60] * 2)


@pytest.mark.parametrize(
    ("start", "step", "code"),
    [
        ((179.99998, -17.0), (1e-5, 0.0), "EPSG:32760"),
        ((-179.99998, 52.0), (-1e-5, 0.0), "EPSG:32601"),
        ((37.0, 2e-5), (0.0, -1e-5), "EPSG:32637"),
        ((-78.0, -2e-5), (0.0, 1e-5), "EPSG:32718"),
    ],
)
def test_a_walk_over_the_date_line_or_the_equator_is_even_on_the_map(start, step, code, tmp_path):
    """Longitude leaps by 360 degrees or N becomes S between two fixes; on the map each step is the same metre.

    A degree along the equator is 111.320 km, along a meridian there 110.574 km (WGS 84, [memory]), times 0.9996 or
    more in a UTM zone.
    """
    rows = []
    for k in range(5):
        lon, lat = start[0] + k * step[0], start[1] + k * step[1]
        lon = (lon + 180.0) % 360.0 - 180.0
        parts = [
            f"{int(abs(v)):0{wide}d}{60 * (abs(v) % 1):010.7f},{sides[v < 0]}"
            for v, wide, sides in ((lat, 2, "NS"), (lon, 3, "EW"))
        ]
        rows.append(gga(f"12000{k}", *parts))
    track = read(tmp_path, *rows)
    assert len(set(np.sign(track.place[:, 0 if step[0] else 1]))) > 1
    local = local_track(track, IDENTITY, projected_crs(code))
    way = np.diff(local.xy_m, axis=0)
    metre = 1e-5 * (111320.0 * np.cos(np.radians(start[1])) if step[0] else 110574.0)
    assert np.hypot(*way.T) == pytest.approx(np.full(4, metre), rel=3e-3)
    assert np.abs(way - way[0]).max() < 1e-3


@pytest.mark.parametrize(
    "body",
    [
        "GPGGA,123519,4867.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,",
        "GPGGA,123519,9107.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,",
        "GPGGA,123519,4807.038,X,01131.000,E,1,08,0.9,545.4,M,46.9,M,,",
        "GPGGA,253519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,",
        "GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,nan,M,46.9,M,,",
        "GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,F,46.9,M,,",
        "GPGGA,123519,4_07.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,",
    ],
)
def test_what_cannot_be_right_is_left_out_even_with_a_right_checksum(body, tmp_path):
    """Minutes of 67, latitude 91, side X, hour 25, nan, feet and underscores are no fix."""
    track = read(tmp_path, sentence(GGA), sentence(body.replace("123519", "123520")))
    assert len(track.time_s) == 1
    assert "1 sentences not understood, left out" in track.notes


def test_no_fix_is_no_place(tmp_path):
    """Quality 0, empty places and status V are counted; a log of nothing else is refused with the counts."""
    void = [
        sentence("GPGGA,,,,,,0,00,99.9,,,,,,"),
        gga("091203", quality=0),
        sentence("GPRMC,000010,V,,,,,,,060180,,,N"),
    ]
    track = read(tmp_path, *void, gga("091204"))
    assert len(track.time_s) == 1
    assert "3 sentences without a fix, left out" in track.notes
    assert not track.dated
    with pytest.raises(ReadError, match=r"no position in it .*3 sentences without a fix"):
        read(tmp_path, *void)


def test_of_two_fixes_at_one_time_the_better_is_kept(tmp_path):
    """Two receivers in one log: fixed before float before autonomous."""
    track = read(
        tmp_path, gga("091203", quality=5), gga("091203", "5133.4846,N", quality=4), gga("091203", quality=1)
    )
    assert track.quality.tolist() == [4]
    assert track.place[0, 1] == pytest.approx(51 + 33.4846 / 60)


BITS = st.sampled_from(
    [
        GGA,
        RMC,
        "GPGST,123519,1,1,1,1,1,1,1",
        "GPZDA,123519,23,03,1994,00,00",
        "$",
        "*",
        ",",
        "\r\n",
        "*47",
        "GPGGA,",
    ]
)


@given(
    parts=st.lists(
        st.one_of(st.binary(max_size=40), BITS.map(str.encode), BITS.map(sentence).map(str.encode)),
        max_size=12,
    )
)
@settings(max_examples=300, deadline=None)
def test_any_bytes_give_an_error_of_ours_or_a_track(parts, tmp_path_factory):
    """Whatever the bytes, the answer is a track of places on Earth in the order of time, or one ReadError row."""
    path = tmp_path_factory.getbasetemp() / "any.nmea"
    path.write_bytes(b"".join(parts))
    for reader in (read_nmea, read_track):
        try:
            track = reader(path)
        except ReadError as error:
            assert "\n" not in str(error)
            continue
        assert (np.diff(track.time_s) > 0).all()
        assert (np.abs(track.place) <= (180, 90)).all() or track.frame != "degrees"
        assert len(track.quality) == len(track.sd_m) == len(track.height_m) == len(track.time_s) > 0


def test_folders_missing_and_huge_files_are_told(tmp_path):
    """A folder, a missing file, an empty one and one of 65 MB are refused in one row each."""
    (tmp_path / "empty").write_bytes(b"")
    with (tmp_path / "huge").open("wb") as stream:
        stream.truncate(65_000_000)
    for name in ("", "none", "empty", "huge"):
        with pytest.raises(ReadError) as caught:
            read_nmea(tmp_path / name)
        assert "\n" not in str(caught.value)
