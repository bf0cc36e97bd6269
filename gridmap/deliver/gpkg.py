"""Layers as one GeoPackage 1.2 (OGC 12-128r15) with their styles inside."""

from __future__ import annotations

import sqlite3
import textwrap
import warnings
from collections.abc import Iterator, Sequence
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any

import pyogrio
from pyogrio.errors import DataLayerError, DataSourceError

from gridmap.deliver.layers import Layer
from gridmap.deliver.styles import qml, sld
from gridmap.errors import OurFaultError, OutputError
from gridmap.files import whole_file

_VERSION = "1.2"  # the first with the final application_id and user_version; read by every client since 2018
_NEVER = "1970-01-01T00:00:00.000Z"
_UNDEFINED_CARTESIAN = "-1"  # the srs_id that GeoPackage reserves for it

_STYLE_TABLE = """
CREATE TABLE layer_styles (
    id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
    f_table_catalog TEXT, f_table_schema TEXT, f_table_name TEXT, f_geometry_column TEXT,
    styleName TEXT, styleQML TEXT, styleSLD TEXT, useAsDefault BOOLEAN,
    description TEXT, owner TEXT, ui TEXT, update_time DATETIME
)"""


def write_features(
    path: Path, layers: Sequence[Layer], crs_wkt: str | None, *, last_change: str = _NEVER
) -> None:
    """Write layers as one GeoPackage, whole or not at all; the same input gives the same bytes.

    Parameters
    ----------
    path : Path
        The file; its folder must exist.
    layers : sequence of Layer
        One or more with different names; order kept. An empty layer is written too: nothing was found.
    crs_wkt : str or None
        CRS of the geometries as WKT 2; None: metres in the local grid (srs_id -1, "undefined Cartesian").
    last_change : str
        UTC time for gpkg_contents.last_change and the style table. Fixed by default, so that a repeated run
        gives the same file; run.json tells from what it was made.

    Raises
    ------
    OutputError
        If the file cannot be written.
    OurFaultError
        If there is no layer, or two have the same name.
    """
    names = [layer.name for layer in layers]
    if not names or len(set(names)) != len(names):
        raise OurFaultError(f"{path.name}: needs layers with different names, has {names}")
    try:
        with whole_file(path) as temporary, _clock_stopped(last_change):
            for layer in layers:
                _write_layer(temporary, layer, crs_wkt)
            _write_styles(temporary, layers, last_change)
            _check(temporary, layers)
    except (DataSourceError, DataLayerError, OSError, sqlite3.Error) as problem:
        reason = getattr(problem, "strerror", None) or textwrap.shorten(str(problem), 160)
        raise OutputError(
            f"{path.name}: cannot be written ({reason}); check the folder, its rights and the free space"
        ) from problem


@contextmanager
def _clock_stopped(last_change: str) -> Iterator[None]:
    """Have GDAL write this time instead of the present one."""
    before = pyogrio.get_gdal_config_option("OGR_CURRENT_DATE")
    pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": last_change})
    try:
        yield
    finally:
        pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": before})


def _write_layer(path: Path, layer: Layer, crs_wkt: str | None) -> None:
    options = {"DESCRIPTION": layer.full_description, "IDENTIFIER": layer.name}
    frame = layer.frame
    if crs_wkt is None:
        options["SRID"] = _UNDEFINED_CARTESIAN
    else:
        frame = frame.set_crs(crs_wkt, allow_override=True)
    with warnings.catch_warnings():
        # The local grid has no CRS on purpose; SRID says so in the file.
        warnings.filterwarnings("ignore", message="'crs' was not provided")
        pyogrio.write_dataframe(
            frame,
            path,
            layer=layer.name,
            driver="GPKG",
            geometry_type=layer.geometry,
            dataset_options={"VERSION": _VERSION},
            layer_options=options,
        )


def _write_styles(path: Path, layers: Sequence[Layer], last_change: str) -> None:
    """Add the table `layer_styles` that desktop clients look for, registered as the standard asks."""
    with closing(sqlite3.connect(path)) as database, database:
        database.execute(_STYLE_TABLE)
        for layer in layers:
            database.execute(
                "INSERT INTO layer_styles (f_table_catalog, f_table_schema, f_table_name, f_geometry_column,"
                " styleName, styleQML, styleSLD, useAsDefault, description, owner, update_time)"
                " VALUES ('', '', ?, 'geom', ?, ?, ?, 1, ?, '', ?)",
                (
                    layer.name,
                    layer.name,
                    qml(layer.style, layer.geometry),
                    sld(layer.style, layer.geometry, layer.name),
                    layer.description,
                    last_change,
                ),
            )
        database.execute(
            "INSERT INTO gpkg_contents (table_name, data_type, identifier, description, last_change, srs_id)"
            " VALUES ('layer_styles', 'attributes', 'layer_styles', 'How the layers look', ?, 0)",
            (last_change,),
        )


def _check(path: Path, layers: Sequence[Layer]) -> None:
    """Refuse a file that a full disk cut short.

    GDAL writes the spatial index and the extent when it closes a file, and says nothing where that fails.
    """
    with closing(sqlite3.connect(path)) as database:

        def ask(question: str, *values: str) -> tuple[Any, ...]:
            return tuple(database.execute(question, values).fetchone() or (None,))

        if ask("PRAGMA quick_check(1)") != ("ok",):
            raise sqlite3.DatabaseError("damaged pages")
        for layer in layers:
            shapes = int((~(layer.frame.geometry.isna() | layer.frame.geometry.is_empty)).sum())
            name = layer.name.replace('"', '""')
            found = (
                *ask(f'SELECT count(*) FROM "{name}"'),
                *ask(f'SELECT count(*) FROM "rtree_{name}_geom"'),
                *ask("SELECT min_x IS NOT NULL FROM gpkg_contents WHERE table_name = ?", layer.name),
                *ask("SELECT feature_count FROM gpkg_ogr_contents WHERE table_name = ?", layer.name),
            )
            if found != (len(layer.frame), shapes, int(shapes > 0), len(layer.frame)):
                raise sqlite3.DatabaseError(f"layer {layer.name} is not complete")
