"""The data appendix: every table of the report in full, as CSV (RFC 4180), and the figures as SVG."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Sequence
from pathlib import Path

from gridmap.deliver.caution import CAUTION
from gridmap.deliver.report_blocks import Figure, Report, Table
from gridmap.deliver.report_lines import plain
from gridmap.deliver.report_maps import KINDS
from gridmap.deliver.report_told import MINUS
from gridmap.files import write_text
from gridmap.read.made_map import MadeMap

NAMES = (
    "features", "quality_levels", "above_ground", "velocity_layers", "depth_sd", "ties", "hyperbolas", "control",
    "positions", "check", "lines_with_findings", "lines", "settings", "inputs",
)  # fmt: skip
"""Stems of the tables that an appendix can hold; one that nothing is known for is left out."""
_PRINTED_ALONE = ("inputs_named", "features")
_NUMBER = re.compile(rf"{MINUS}?\d[\d.]*")


def write_appendix(folder: Path, report: Report, made: MadeMap) -> list[str]:
    """Write the tables, the figures and a list of them into a folder that may hold an older appendix.

    Parameters
    ----------
    folder : Path
        The folder; made where it does not exist. Files of other names are left alone.
    report : Report
        Holds the tables and the figures.
    made : MadeMap
        For features and hyperbolas in full.

    Returns
    -------
    list of str
        Names written.
    """
    tables = [b for b in report.blocks() if isinstance(b, Table) and b.name not in _PRINTED_ALONE]
    tables += [*report.tables, features_in_full(made), hyperbolas(made)]
    (folder / "figures").mkdir(parents=True, exist_ok=True)
    written = []
    for table in sorted((t for t in tables if t.rows), key=lambda t: t.name):
        write_text(folder / f"{table.name}.csv", csv_text(table.head, table.rows))
        written.append(f"{table.name}.csv")
    for figure in (b for b in report.blocks() if isinstance(b, Figure) and b.svg):
        write_text(folder / "figures" / f"{figure.name}.svg", figure.svg)
        written.append(f"figures/{figure.name}.svg")
    for stale in NAMES:
        if f"{stale}.csv" not in written:
            (folder / f"{stale}.csv").unlink(missing_ok=True)
    write_text(folder / "README.txt", _readme(report, tables, written))
    return written


def csv_text(head: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """Write rows as CSV with Unix line ends.

    A number has a plain minus. Text that a spreadsheet would take for a formula gets an apostrophe before it.
    """
    held = io.StringIO()
    writer = csv.writer(held, lineterminator="\n")
    writer.writerow([_cell(h) for h in head])
    writer.writerows([_cell(c) for c in row] for row in rows)
    return held.getvalue()


def features_in_full(made: MadeMap) -> Table:
    """Every row of the layers of features, with every column and its shape as well-known text."""
    columns: list[str] = []
    frames = [(name, made.layer(name)) for name in KINDS]
    for _, frame in frames:
        columns += [str(c) for c in frame.columns if c != frame.geometry.name and c not in columns]
    rows = [
        (name, *(plain(row.get(c)) for c in columns), "" if row.geometry is None else row.geometry.wkt)
        for name, frame in frames
        for _, row in frame.iterrows()
    ]
    return Table(
        "features", "Features, everything known of them.", ("layer", *columns, "wkt"), tuple(rows), ""
    )


def hyperbolas(made: MadeMap) -> Table:
    """Every hyperbola that counts."""
    fits = (made.record.get("velocity_evidence") or {}).get("hyperbolas") or []
    head = tuple(fits[0]) if fits else ()
    rows = tuple(tuple(plain(fit.get(key)) for key in head) for fit in fits)
    return Table("hyperbolas", "Hyperbolas that count for the velocity.", head, rows, "")


def _cell(value: str) -> str:
    if _NUMBER.fullmatch(value):
        return value.replace(MINUS, "-")
    try:
        float(value)
    except ValueError:
        return f"'{value}" if value[:1] in ("=", "+", "-", "@", "\t", MINUS) else value
    return value


def _readme(report: Report, tables: Sequence[Table], written: Sequence[str]) -> str:
    said = {f"{t.name}.csv": t.caption for t in tables}
    said |= {f"figures/{b.name}.svg": b.caption for b in report.blocks() if isinstance(b, Figure)}
    rows = [f"{name}\n    {said[name]}" if said.get(name) else name for name in written]
    return "\n".join(
        [f"{report.title}: {report.site}", "Data appendix of the report", "", *rows, "",
         "CSV: UTF-8, comma between cells, point in numbers. Text that a spreadsheet would take for a formula has an",
         "apostrophe before it.", "", report.caution or CAUTION, ""]
    )  # fmt: skip
