"""Read a site file: from TOML text to a checked `Site`."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

from gridmap.errors import SiteError
from gridmap.site.keys import KEYS, PLACEHOLDER, REPEATED, Table, row_of, shown, suggestion, unfilled
from gridmap.site.layouts import read_layouts
from gridmap.site.lines import read_lines
from gridmap.site.placing import (
    check_frame,
    check_used,
    read_stations_table,
    read_terrain_table,
    read_track_table,
)
from gridmap.site.records import Site
from gridmap.site.tables import (
    read_antenna,
    read_control,
    read_corrections,
    read_ground,
    read_processing,
    read_report,
    read_site,
    read_ties,
)

_LARGEST_BYTES = 4_000_000


def load_site(path: Path, *, data: Path | None = None, absent_ok: bool = False) -> Site:
    """Read and check a site file.

    Parameters
    ----------
    path : Path
        The site file, TOML in UTF-8.
    data : Path or None
        Folder that the paths of data files start in; None: the folder of the site file.
    absent_ok : bool
        Whether line files may be missing, as while a survey is being walked.

    Returns
    -------
    Site
        Checked, with every line rule written out and every data file found.

    Raises
    ------
    SiteError
        For the first thing that is wrong; names the file, its row, the table, the key and the fix.
    """
    path = Path(path).absolute()
    root = path.parent if data is None else Path(data).absolute()
    text = read_toml_text(path)
    document = parse_toml(path.name, text)
    _refuse_placeholders(path.name, text)
    tables = _tables(path.name, text, document)
    if not root.is_dir():
        raise SiteError(
            f"{root}: there is no such folder. Give the folder that holds the data files of {path.name}."
        )

    head = read_site(tables["site"], default_name=path.parent.name if path.stem == "site" else path.stem)
    control = read_control(tables["control"])
    antenna = read_antenna(tables["antenna"], path.name)
    ground = replace(read_ground(tables["ground"]), ties=read_ties(tables["tie"]))
    processing = read_processing(tables["processing"], tables["record"], path.parent)
    line_tables = [t for name in document if name in ("line", "lines", "swaths") for t in tables[name]]
    lines = read_lines(line_tables, root, path.name, absent_ok=absent_ok)
    track = read_track_table(tables["track"], root)
    for way in ("track", "stations"):
        check_used(lines, way, tables[way], path.name)
    check_frame(head.crs, control, lines, path.name)
    return Site(
        path=path,
        name=head.name,
        layouts=read_layouts(tables["text"], tables["arrays"]),
        antenna=antenna,
        lines=lines,
        description=head.description,
        crs=head.crs,
        control=control,
        control_limit_cm=head.control_limit_cm,
        ground=ground,
        size_m=head.size_m,
        wanted_depth_m=head.wanted_depth_m,
        processing=processing,
        track=track,
        stations=read_stations_table(tables["stations"], root),
        terrain=read_terrain_table(tables["terrain"], root, head.crs is not None),
        corrections=read_corrections(tables["corrections"]),
        report=read_report(tables["report"]),
    )


def read_toml_text(path: Path) -> str:
    """Read a site file or a request whole; raises SiteError with path and fix."""
    if path.is_dir():
        raise SiteError(f"{path}: this is a folder. Give the site file in it, such as {path / 'site.toml'}.")
    if not path.is_file():
        raise SiteError(
            f"{path}: there is no such file. Give the path of a site file; gridmap new FOLDER writes one."
        )
    if path.stat().st_size > _LARGEST_BYTES:
        raise SiteError(f"{path}: too large for a site file. Give the .toml file, not the data.")
    try:
        return path.read_bytes().decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise SiteError(
            f"{path.name}: not UTF-8 text (byte {error.start + 1}). Save it again as UTF-8 in the text"
            " editor."
        ) from error
    except OSError as error:
        raise SiteError(
            f"{path}: cannot be read ({error.strerror}). Check the rights of the file."
        ) from error


def parse_toml(source: str, text: str) -> Mapping[str, object]:
    """Parse TOML; raises SiteError with file, row and fix."""
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        found = re.search(r"\(at (?:line (\d+), column (\d+)|end of document)\)", str(error))
        row = int(found.group(1)) if found and found.group(1) else text.count("\n") + 1
        what = re.sub(r"\s*\(at .*\)$", "", str(error)).lower()
        rows = text.splitlines()
        quote = rows[row - 1].strip() if row <= len(rows) else ""
        said = f' in "{quote[:60]}"' if quote and quote.isprintable() else ""
        raise SiteError(
            f"{source}:{row}: not TOML, {what}{said}. Write text in quotes, numbers with a decimal "
            "point, pairs in square brackets, and each key once in its table."
        ) from error
    except RecursionError as error:
        raise SiteError(
            f"{source}: brackets are nested too deep. Write each table on rows of its own."
        ) from error


def _refuse_placeholders(source: str, text: str) -> None:
    rows = unfilled(text)
    if rows:
        some = ", ".join(f"{key} (row {row})" for row, key in rows[:8]) + (", ..." if len(rows) > 8 else "")
        raise SiteError(
            f'{source}:{rows[0][0]}: {len(rows)} value{"s" * (len(rows) > 1)} still to "{PLACEHOLDER}":'
            f" {some}. Write the value from the field book in each place."
        )


def _tables(source: str, text: str, document: Mapping[str, object]) -> dict[str, list[Table]]:
    tables: dict[str, list[Table]] = {name: [] for name in KEYS}
    for name, value in document.items():
        row = row_of(text, name)
        where = f"{source}:{row}: " if row else f"{source}: "
        if name not in KEYS:
            homes = [
                f"[[{table}]]" if table in REPEATED else f"[{table}]"
                for table, keys in KEYS.items()
                if name in keys
            ]
            if homes:
                raise SiteError(
                    f"{where}{name} stands outside the tables. Move it below the heading"
                    f" {' or '.join(homes)}."
                )
            known = ", ".join(f"[[{table}]]" if table in REPEATED else f"[{table}]" for table in KEYS)
            raise SiteError(
                f"{where}there is no table {shown(name)}{suggestion(name, list(KEYS))}. The tables are"
                f" {known}."
            )
        entries = value if isinstance(value, list) and name in REPEATED else [value]
        if name in REPEATED and not isinstance(value, list):
            raise SiteError(f"{where}{name} may come more than once. Write its heading as [[{name}]].")
        if not all(isinstance(entry, dict) for entry in entries):
            raise SiteError(
                f"{where}{name} is a table of its own and comes once. Write its heading as [{name}]."
                if name not in REPEATED
                else f"{where}{name} is a table. Write its heading as [[{name}]], and its keys below."
            )
        tables[name] = [
            Table(source, text, name, index, entry)
            for index, entry in enumerate(entries)
            if isinstance(entry, dict)
        ]
    for group in tables.values():
        for table in group:
            table.check_keys()
    return tables
