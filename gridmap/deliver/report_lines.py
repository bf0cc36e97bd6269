"""Sections on the lines: positions with what is left over at control, and the quality of each line."""

from __future__ import annotations

from gridmap.deliver.report_blocks import Block, Section, Table, Text
from gridmap.deliver.report_told import Told, number, text

MOST_LISTED = 25
MOST_FINDINGS = 60


def positions(told: Told) -> Section:
    """Control residuals and what the data said of positions."""
    w, control = told.words, told.made.layer("control")
    fit = told.made.record.get("control")
    blocks: list[Block] = []
    if len(control) and fit:
        blocks.append(Text(w("positions.tied", n=len(control), rms=number(fit["rms_cm"], 1))))
        columns = (
            "local_x_m",
            "local_y_m",
            "easting_m",
            "northing_m",
            "residual_east_cm",
            "residual_north_cm",
            "residual_cm",
        )
        digits = (3, 3, 3, 3, 1, 1, 1)
        cells = tuple(
            (text(row["name"]), *(number(row[c], d) for c, d in zip(columns, digits, strict=True)))
            for _, row in control.iterrows()
        )
        blocks.append(
            Table("control", w("positions.table"), tuple(w.items("positions.head")), cells, "lrrrrrrr")
        )
    else:
        blocks.append(Text(w("positions.none")))
    found = told.settings.get("positions") or []
    if found:
        cells = tuple(
            (text(f["kind"]), ", ".join(text(n) for n in f["lines"]),
             w("positions.yes" if f["applied"] else "positions.no"), text(f["words"]))
            for f in found
        )  # fmt: skip
        blocks.append(
            Table("positions", w("positions.found"), tuple(w.items("positions.found_head")), cells, "lllw")
        )
    else:
        blocks.append(Text(w("positions.clean")))
    return Section("positions", w("positions.heading"), tuple(blocks))


def checks(told: Told) -> Section:
    """Tell what stands out in single lines, and what a check of the lines said."""
    w, walked = told.words, told.made.layer("lines_walked")
    blocks: list[Block] = [Text(w("checks.about"))]
    findings = [f for f in told.made.checks.get("findings", []) if isinstance(f, dict)]
    if findings:
        cells = tuple(
            (
                text(f.get("line")), text(f.get("kind")), text(f.get("severity")), number(f.get("from_m"), 1),
                number(f.get("to_m"), 1), text(f.get("words") or f.get("why")), text(f.get("what_to_do")),
            )
            for f in findings[:MOST_FINDINGS]
        )  # fmt: skip
        blocks.append(
            Table("check", w("checks.findings"), tuple(w.items("checks.findings_head")), cells, "lllrrww")
        )
    telling = [row for _, row in walked.iterrows() if row.get("left_out") or text(row.get("findings"))]
    if telling:
        worst = sorted(telling, key=lambda r: (not text(r.get("findings")), -int(r.get("left_out") or 0)))[
            :MOST_LISTED
        ]
        listed = tuple(
            (
                text(r["name"]),
                number(r["length_m"], 1),
                number(r["traces"], 0),
                number(r["left_out"], 0),
                text(r["findings"]),
            )
            for r in worst
        )
        blocks.append(
            Table("lines_with_findings", w("checks.table"), tuple(w.items("checks.head")), listed, "lrrrw")
        )
        if len(walked) > len(worst):
            blocks.append(Text(w("checks.all", n=len(walked) - len(worst))))
    else:
        blocks.append(Text(w("checks.clean")))
    return Section("checks", w("checks.heading"), tuple(blocks))


def all_lines(told: Told) -> Table:
    """Every line, for the data appendix."""
    walked = told.made.layer("lines_walked")
    columns = tuple(str(c) for c in walked.columns if c != walked.geometry.name)
    rows = tuple(tuple(plain(row[c]) for c in columns) for _, row in walked.iterrows())
    return Table("lines", "", columns, rows, "l" * len(columns))


def plain(value: object) -> str:
    """Write a cell of the data appendix: a number with a point and a plain minus, text on one row."""
    return text(value) if isinstance(value, str) or value is None else "" if value != value else str(value)
