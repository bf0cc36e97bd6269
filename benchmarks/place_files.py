"""Small sound files of everything that is not a line: tracks, points, ground heights and site files, for fuzzing."""

from __future__ import annotations

import warnings
from pathlib import Path

import numpy as np

from gridmap.read.nmea import checksum

SHARED = Path(__file__).parents[1] / "../shared/surveys"
SITES = Path(__file__).parents[1] / "tests/sites"


def sound(kind: str, folder: Path) -> list[bytes]:
    """Give sound files of one kind, "nmea", "gpx", "points", "terrain" or "sitefile"."""
    made = {"nmea": _nmea, "gpx": _gpx, "points": _points, "sitefile": _site_files}
    return _terrain(folder) if kind == "terrain" else made[kind]()


def sentence(body: str) -> str:
    """Put $ before and a right checksum behind."""
    return f"${body}*{checksum(body.encode('latin-1')):02X}"


def _nmea() -> list[bytes]:
    place = "5133.48{k}5,N,00358.96{k}6,W"
    rows = []
    for k in range(10, 30):
        clock = f"{235950 + k if k < 20 else k - 20:06d}.00"  # the clock passes midnight
        here = place.format(k=k)
        rows.append(sentence(f"GNGGA,{clock},{here},{4 if k % 5 else 5},17,0.7,63.1,M,46.1,M,1.0,0123"))
        rows.append(sentence(f"GNRMC,{clock},A,{here},0.1,0.0,{281123 if k < 20 else 291123},,,R"))
        rows.append(sentence(f"GNGST,{clock},0.006,0.023,0.020,273.6,0.023,0.020,0.031"))
    rows.append(sentence("GNZDA,000010.00,29,11,2023,00,00"))
    found = ["\r\n".join(rows).encode(), "\n".join(rows[::3]).encode(), "\r\n".join(rows[1::3]).encode()]
    lane = SHARED / "lane/track.nmea"
    if lane.is_file():
        found.append(b"\n".join(lane.read_bytes().splitlines()[:120]))
    return found


def _gpx() -> list[bytes]:
    points = "".join(
        f'<trkpt lat="{51.5 + k * 1e-6:.6f}" lon="{-3.98 - k * 1e-6:.6f}"><ele>63.{k}</ele>'
        f"<time>2024-04-06T09:12:{k:02}.2Z</time><fix>dgps</fix><geoidheight>46.1</geoidheight></trkpt>"
        for k in range(12)
    )
    head = '<?xml version="1.0" encoding="UTF-8"?>\n<gpx version="1.1" creator="t" '
    space = 'xmlns="http://www.topografix.com/GPX/1/1">'
    body = f"<wpt lat='51' lon='-3'><name>peg</name></wpt><trk><trkseg>{points}</trkseg></trk></gpx>"
    text = head + space + body
    prefixed = text.replace("<gpx", "<g:gpx").replace("xmlns=", "xmlns:g=").replace("</gpx", "</g:gpx")
    return [text.encode(), prefixed.encode(), text.replace("UTF-8", "UTF-16").encode("utf-16")]


def _points() -> list[bytes]:
    tracks = [
        "time,lat,lon,fix,sd\n"
        + "".join(f"{23 if k < 5 else 0:02}:59:{50 + k},51.5{k},-3.9{k},4,0.0{k}\n" for k in range(9)),
        "# station 1\nutc;easting;northing;height\n"
        + "".join(f"2024-04-06T09:12:{k:02}Z;431877,2{k};5712345,6{k};63,1\n" for k in range(9)),
        "1 1000.0 2.0 3.0\n2 1000.2 2.1 3.0\n3 1000.4 2.2 3.1\n",
        "date\ttime\tx\ty\tquality\n"
        + "".join(f"2024-04-06\t09:12:{k:02}\t{k}\t0.5\tfloat\n" for k in range(9)),
    ]
    points = "name,x,y,z\n" + "".join(f"Straße {k},{k % 4},{k // 4},{0.1 * k:.1f}\n" for k in range(12))
    stations = "line,station,easting,northing,height\n" + "".join(
        f"L1,{k},{431877 + k},{5712345 + 0.1 * k:.1f},63.{k}\n" for k in range(9)
    )
    texts = [text.encode() for text in (*tracks, points, stations)]
    return [*texts, points.encode("utf-16"), points.encode("cp1252")]


def _terrain(folder: Path) -> list[bytes]:
    import rasterio
    from rasterio.errors import NotGeoreferencedWarning
    from rasterio.transform import from_origin

    warnings.simplefilter("ignore", NotGeoreferencedWarning)
    height = (60 + np.add.outer(0.02 * np.arange(20), 0.05 * np.arange(30))).astype(np.float32)
    height[:2, :3] = -9999
    where = from_origin(431870.0, 5712360.0, 0.5, 0.5)
    found = []
    kinds: tuple[dict[str, object], ...] = (
        {"dtype": "float32"},
        {"dtype": "float32", "compress": "deflate", "predictor": 3},
        {"dtype": "int16", "compress": "lzw", "tiled": True, "blockxsize": 16, "blockysize": 16},
        {"dtype": "float64", "bigtiff": "yes", "interleave": "band"},
    )
    for k, more in enumerate(kinds):
        path = folder / f"dem{k}.tif"
        profile = {"driver": "GTiff", "width": 30, "height": 20, "count": 1, "nodata": -9999, **more}
        with rasterio.open(path, "w", crs="EPSG:32630", transform=where, **profile) as raster:
            raster.write(height.astype(str(more["dtype"])), 1)
        found.append(path.read_bytes())
    head = "ncols 30\nnrows 20\nxllcorner 431870.0\nyllcorner 5712350.0\ncellsize 0.5\nNODATA_value -9999\n"
    rows = "\n".join(" ".join(f"{cell:.2f}" for cell in row) for row in height)
    return [*found, (head + rows + "\n").encode()]


def _site_files() -> list[bytes]:
    """Site files of the shared surveys and of the demo, and two that hold every table."""
    demo = Path(__file__).parents[1] / "gridmap/demo_data/site.toml"
    found = [path.read_bytes() for path in sorted(SITES.glob("*.toml")) if (SHARED / path.stem).is_dir()]
    return [*found, demo.read_bytes(), _EVERYTHING.encode(), _EVERYTHING.replace("\n", "\r\n").encode()]


def site_data(folder: Path) -> Path:
    """Make the data files that `_EVERYTHING` names (empty ones: a site file is checked without reading them)."""
    names = [
        *(f"lines/L{k:03d}.sgy" for k in (1, 2, 10)),
        *(f"extra/{name}" for name in ("M1.csv", "T.sgy", "P.sgy")),
    ]
    for name in (*names, "extra/K.sgy", "extra/Z.sgy", "track.nmea", "ground.csv"):
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(b"")
    return folder


_EVERYTHING = """
[site]
name = "Yard Straße"
crs = "EPSG:32630"
size_m = [9.5, 7.5]
control_limit_cm = 4

[[control]]
name = "A"
local_m = [0, 0]
map_m = [431877.2, 5712345.6]

[[control]]
name = "B"
local_m = [6.0, 0]
map_m = [431883.2, 5712345.6]

[antenna]
frequency_mhz = 350
separation_m = 0.14
height_m = 0.02

[ground]
velocity_m_per_ns = 0.1
velocity_sd_m_per_ns = 0.01

[record]
sample_interval_ns = 0.2

[text]
delimiter = "comma"
decimal = "."
encoding = "utf-8"
header_rows = 1
traces_in = "rows"
before_samples = ["x", "y", "number"]
sample_times = true
time_unit = "ns"

[arrays]
amplitude = "a"
traces_in = "rows"
time = "t"

[[lines]]
files = "lines/L*.sgy"
count = 3
first_start_m = [0, 0]
first_end_m = [0, 7.5]
step_m = [0.25, 0]
zigzag = true

[[line]]
name = "T"
file = "extra/T.sgy"
positions = "track"

[[line]]
file = "extra/M1.csv"
name = "M"
start_m = [0, 0]
direction = "+x"
length_m = 4.0
positions = "wheel"
nominal_spacing_m = 0.05

[[line]]
name = "P"
file = "extra/P.sgy"
polyline_m = [[0, 0], [5, 0], [8, 4]]

[[line]]
name = "Z"
file = "extra/Z.sgy"
positions = "stations"

[[line]]
name = "K"
file = "extra/K.sgy"
start_m = [1, 1]
end_m = [1, 6]
mark_traces = [1, 50, 101]
mark_every_m = 2.5

[track]
file = "track.nmea"
format = "auto"
columns = { time = "utc", easting = 2, northing = 3 }
sd_m = 0.02
time_offset_s = "find"
latency_s = 0.1
lever_arm_m = [0, 0, 1.8]
gap_max_s = 3
min_quality = "float"

[stations]
file = "ground.csv"
columns = { line = "profile", station = "chainage" }
frame = "local"

[terrain]
points = "ground.csv"
frame = "map"

[processing]
band_mhz = [100, 700]
imaging = "auto"
cell_m = 0.05
slice_overlap = 0.5

[corrections]
wheel = "report"
stagger = "report"
level = "off"
"""
