"""The hand-over: one folder that a GIS or CAD office opens and understands, with styles, metadata and fingerprints."""

from __future__ import annotations

import csv
import shutil
import sqlite3
import zipfile
from collections.abc import Mapping, Sequence
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path

import geopandas as gpd
import numpy as np
import shapely

from gridmap._version import VERSION
from gridmap.deliver.caution import CAUTION
from gridmap.deliver.colours import colour_range
from gridmap.deliver.dxf import write_dxf
from gridmap.deliver.geojson import write_geojson
from gridmap.deliver.handover_metadata import AboutLayer, dublin_core, iso_xml, on_globe
from gridmap.deliver.handover_words import readme_text, title_of
from gridmap.deliver.kml import write_kml
from gridmap.deliver.layers import Layer
from gridmap.deliver.marking import NEUTRAL
from gridmap.deliver.raster_styles import RasterStyle, raster_qml, raster_sld
from gridmap.deliver.report_maps import standing_rows
from gridmap.deliver.report_words import clean
from gridmap.deliver.styles import Style
from gridmap.files import sha256, whole_file, write_text
from gridmap.read.made_map import MadeMap

PACKAGE, SLICES, REACH, COVERAGE = (
    "01_features.gpkg",
    "02_depth_slices.tif",
    "03_reach_m.tif",
    "04_coverage_m.tif",
)
SAME_M = 0.02
"""A point to set out lies on its feature if it is this near, metres."""
_ZIP_TIME = (1980, 1, 1, 0, 0, 0)


@dataclass(slots=True)
class _Made:
    """Files written so far, with what they are, and notes."""

    folder: Path
    files: list[tuple[str, str]] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)

    def add(self, name: str, what: str) -> Path:
        self.files.append((name, what))
        path = self.folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        return path


def write_handover(folder: Path, made: MadeMap, said: Mapping[str, str]) -> list[str]:
    """Write everything into an existing, empty folder.

    Parameters
    ----------
    folder : Path
        A temporary folder that takes its name when all is written.
    made : MadeMap
        The map, as it stands now.
    said : mapping of str to str
        Company, contact, date and the like.

    Returns
    -------
    list of str
        Notes: what is left out, and why.
    """
    out, m = made.folder, _Made(folder)
    settings = made.record["parameters"].get("site", {})
    site, crs_name = clean(made.record.get("site", "")), settings.get("crs") or ""
    wkt = made.raster.crs_wkt
    crs = crs_name or "local grid, not tied to a map"
    shutil.copyfile(
        out / "features.gpkg", m.add(PACKAGE, "Features, lines walked, control points; styles are inside.")
    )
    _rasters(m, made)
    layers = [_layer(made, name) for name in made.layers]
    frame_words = f"Co-ordinates: {crs}, metres."
    write_dxf(
        m.add("cad/features.dxf", "The same for CAD, metres, one layer a kind."), layers, site, frame_words
    )
    if wkt is None:
        m.notes.append(
            "no web/features.geojson and no phone/features.kml: both need a CRS, and the map has none."
        )
    else:
        found = [layer for layer in layers if layer.name in ("linear", "outlines", "points")]
        write_geojson(m.add("web/features.geojson", "The same for the web, WGS 84."), found, wkt)
        write_kml(m.add("phone/features.kml", "The same for a phone."), found, wkt, site)
    _stakeout(m, made)
    if (out / "scene.glb").is_file():
        shutil.copyfile(out / "scene.glb", m.add("3d/scene.glb", "3D scene, glTF 2.0, metres, up is +Y."))
    if (out / "report.pdf").is_file():
        shutil.copyfile(out / "report.pdf", m.add("report.pdf", "The report, as it was made last."))
    else:
        m.notes.append("no report.pdf: gridmap report has not been run on the map.")
    _styles(m, out / "features.gpkg")
    _metadata(m, made, said, site, layers)
    write_text(folder / "README.txt", readme_text(made, site, crs, m.files, m.notes, said))
    write_text(folder / "CAUTION.txt", CAUTION + "\n")
    write_text(folder / "SHA256SUMS", checksums(folder))
    return m.notes


def checksums(folder: Path) -> str:
    """List the SHA-256 of every file below a folder, as `sha256sum -c` reads it."""
    names = sorted(
        p.relative_to(folder).as_posix() for p in folder.rglob("*") if p.is_file() and p.name != "SHA256SUMS"
    )
    return "".join(f"{sha256(folder / name)}  {name}\n" for name in names)


def write_zip(path: Path, folder: Path) -> None:
    """Pack a folder, whole or not at all; the same files give the same bytes."""
    with (
        whole_file(path) as part,
        zipfile.ZipFile(part, "w", zipfile.ZIP_DEFLATED, compresslevel=6) as packed,
    ):
        for file in sorted(p for p in folder.rglob("*") if p.is_file()):
            entry = zipfile.ZipInfo(f"{folder.name}/{file.relative_to(folder).as_posix()}", _ZIP_TIME)
            entry.compress_type, entry.external_attr = zipfile.ZIP_DEFLATED, 0o644 << 16
            packed.writestr(entry, file.read_bytes())


def stakes_fit(made: MadeMap, rows: Sequence[Mapping[str, str]]) -> bool:
    """Say whether points to set out lie on the features that stand now, and each of these has some."""
    shapes = {str(row["id"]): shapely.force_2d(row.geometry) for row in standing_rows(made)}
    places = ("easting", "northing") if rows and "easting" in rows[0] else ("x", "y")
    for row in rows:
        shape = shapes.get(row["feature"])
        if shape is None:
            return False
        if shapely.distance(shape, shapely.Point(*(float(row[p]) for p in places))) > SAME_M:
            return False
    return {row["feature"] for row in rows} == set(shapes)


def _rasters(m: _Made, made: MadeMap) -> None:
    scale = colour_range(made.slices.values)
    quantity = made.slices.quantity or "strength of the echo"
    many = RasterStyle("cividis", scale, "", 1 + len(made.slices.windows) // 2)
    _raster(
        m,
        made.folder / "slices.tif",
        SLICES,
        f"All depth slices, a band each, named by depth; {quantity}.",
        many,
    )
    for window in made.slices.windows:
        source = made.folder / "slices" / f"{window.stem}.tif"
        if source.is_file():
            shutil.copyfile(source, _beside(m, f"slices/{source.name}"))
            write_text(m.folder / "slices" / f"{window.stem}.qml", raster_qml(RasterStyle("cividis", scale)))
    m.files.append(("slices/", "Each depth slice as a file of its own, on one colour scale."))
    about = "Metres below the ground to which a stated echo would still stand above the noise; deeper says nothing."
    _raster(m, made.folder / "reach.tif", REACH, about, RasterStyle("viridis", _ends(made.reach_m), "m"))
    about = "Metres to the nearest trace; far from one nothing was measured."
    _raster(
        m, made.folder / "coverage.tif", COVERAGE, about, RasterStyle("viridis", _ends(made.coverage_m), "m")
    )


def _raster(m: _Made, source: Path, name: str, what: str, style: RasterStyle) -> None:
    shutil.copyfile(source, m.add(name, what))
    stem = Path(name).stem
    write_text(m.folder / f"{stem}.qml", raster_qml(style))
    write_text(_beside(m, f"styles/{stem}.sld"), raster_sld(style, stem))


def _beside(m: _Made, name: str) -> Path:
    path = m.folder / name
    path.parent.mkdir(parents=True, exist_ok=True)
    return path


def _layer(made: MadeMap, name: str) -> Layer:
    frame = made.layers[name]
    kinds = {"outlines": "Polygon", "points": "Point", "control": "Point", "above_ground": "Point"}
    colour, label = (NEUTRAL, "id") if name in ("linear", "outlines", "points") else ("#5b6770", None)
    return Layer(
        name, frame, kinds.get(name, "LineString"), made.descriptions.get(name, ""), Style(colour, 0.6, label)
    )


def _stakeout(m: _Made, made: MadeMap) -> None:
    source = made.folder / "stakeout.csv"
    if not source.is_file():
        return
    with source.open(encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    if stakes_fit(made, rows):
        shutil.copyfile(
            source, m.add("setting_out/stakeout.csv", "Points to set out, metres; depth to the top.")
        )
    else:
        m.notes.append(
            "no setting_out/stakeout.csv: features were changed after the map was made, and its points would lie beside"
            " them. Make the map again with --replace, then the hand-over."
        )


def _styles(m: _Made, source: Path) -> None:
    """Lay the styles that are in the GeoPackage beside it too."""
    with closing(sqlite3.connect(f"{source.resolve().as_uri()}?mode=ro", uri=True)) as database:
        there = database.execute("SELECT 1 FROM sqlite_master WHERE name = 'layer_styles'").fetchone()
        rows = (
            database.execute("SELECT f_table_name, styleQML, styleSLD FROM layer_styles").fetchall()
            if there
            else []
        )
    for name, qml, sld in rows:
        stem = "".join(c if c.isalnum() or c in "_-" else "_" for c in str(name))
        for ending, words in (("qml", qml), ("sld", sld)):
            if words:
                write_text(_beside(m, f"styles/{stem}.{ending}"), str(words))
    m.files.append(("styles/", "Styles as OGC SLD 1.0 for a map server; those of the layers as QML too."))


def _metadata(m: _Made, made: MadeMap, said: Mapping[str, str], site: str, layers: Sequence[Layer]) -> None:
    wkt, raster = made.raster.crs_wkt, made.raster
    lineage = (
        f"gridmap {VERSION} from {len(made.record.get('inputs', []))} files, each named with its SHA-256 in the map's"
        f" run.json; velocity {made.record['velocity_m_per_ns']} m/ns, standard deviation"
        f" {made.record['velocity_sd_m_per_ns']} m/ns, from {made.record['velocity_source']}."
    )
    abouts = [
        AboutLayer(layer.name, f"{site}: {title_of(layer.name)}", layer.description or layer.name,
                   "GeoPackage 1.2", "vector")
        for layer in layers
    ]  # fmt: skip
    said_of = dict(m.files)
    abouts += [
        AboutLayer(Path(name).stem, f"{site}: {Path(name).stem[3:].replace('_', ' ')}", f"{said_of[name]} {CAUTION}",
                   "GeoTIFF 1.1, cloud-optimised", "grid", raster.cell_m)
        for name in (SLICES, REACH, COVERAGE)
    ]  # fmt: skip
    for about in abouts:
        extent = _extent(made.layers.get(about.name), raster.bounds)
        write_text(_beside(m, f"metadata/{about.name}.xml"), iso_xml(about, said, wkt, extent, lineage))
    globe = on_globe(wkt, raster.bounds) if wkt else None
    sides = ("westlimit", "southlimit", "eastlimit", "northlimit")
    coverage = "; ".join(f"{name}={value:.6f}" for name, value in zip(sides, globe or (), strict=False))
    pairs = [
        ("title", f"{site}: ground-penetrating radar survey"),
        ("creator", said.get("company", "") or said.get("author", "")),
        ("subject", said.get("keywords", "") or "ground-penetrating radar"),
        ("description", said.get("purpose", "")),
        ("description", CAUTION),
        ("date", said.get("date", "")),
        ("type", "Dataset"),
        ("format", "GeoPackage; GeoTIFF"),
        ("identifier", said.get("reference", "")),
        ("language", "en"),
        ("coverage", coverage),
        ("rights", said.get("rights", "")),
    ]
    write_text(_beside(m, "metadata/dublin_core.xml"), dublin_core(pairs))
    m.files.append(("metadata/", "ISO 19115 (as ISO 19139 XML) of each layer; Dublin Core of the whole."))


def _extent(
    frame: gpd.GeoDataFrame | None, whole: tuple[float, float, float, float]
) -> tuple[float, float, float, float]:
    if frame is None or not len(frame) or not np.isfinite(frame.total_bounds).all():
        return whole
    west, south, east, north = (float(v) for v in frame.total_bounds)
    return west, south, east, north


def _ends(values: np.ndarray) -> tuple[float, float]:
    known = values[np.isfinite(values)]
    low, high = (float(f"{v:.3g}") for v in np.percentile(known, [1, 99])) if known.size else (0.0, 1.0)
    return (low, high) if high > low else (low, low + 1.0)
