"""Summary and table of features, as they stand in features.gpkg now."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from gridmap.deliver.caution import CAUTION
from gridmap.deliver.report_blocks import Block, Bullets, Figure, Notice, Section, Subheading, Table, Text
from gridmap.deliver.report_maps import KINDS, plan_map
from gridmap.deliver.report_told import Told, number, text

SURE, LIKELY = 0.8, 0.5
MOST = 8
"""Features told one by one in the summary; the table has all."""
_FORMS = {"LineString": "line", "Polygon": "area", "Point": "point"}


def summary(told: Told) -> Section:
    """Tell in plain words what was done and found, with the plan."""
    w, made, rows = told.words, told.made, told.rows()
    record = made.record
    blocks: list[Block] = [
        Text(
            w("summary.opening", site=told.site, lines=len(made.layer("lines_walked")), metres=f"{told.walked_m():.0f}",
              area=f"{told.hull().area:.0f}")
        )
    ]  # fmt: skip
    purpose = told.said.get("purpose") or told.settings.get("site", {}).get("description")
    if purpose:
        blocks.append(Text(w("summary.purpose", words=text(purpose))))
    kinds = _kinds(told, rows)
    if rows:
        blocks.append(Text(w.count("summary.found", len(rows), kinds=kinds)))
        told_rows = sorted(rows, key=lambda r: -_sure(r))[:MOST]
        items = [feature_sentence(told, row) for row in told_rows]
        if len(rows) > MOST:
            items.append(w("summary.more", n=len(rows) - MOST))
        blocks.append(Bullets(tuple(items)))
    else:
        blocks.append(Notice(w("summary.found_none")))
    blocks.append(
        Text(
            w("summary.depths", velocity=number(record["velocity_m_per_ns"], 3),
              sd=number(record["velocity_sd_m_per_ns"], 3), source=text(record["velocity_source"]))
        )
    )  # fmt: skip
    warnings = [text(words) for words in record.get("warnings", [])]
    blocks.append(Subheading(w("summary.attention")))
    blocks.append(Bullets(tuple(warnings)) if warnings else Text(w("summary.attention_none")))
    blocks.append(Notice(CAUTION, w("summary.caution")))
    sheet, scale = plan_map(made, w("summary.heading"), "plan", 205)
    caption = w("summary.plan" if rows else "summary.plan_empty", scale=f"{scale:g}")
    alt = w("summary.plan_alt", n=len(rows), words="; ".join(feature_sentence(told, r) for r in rows[:MOST]))
    blocks.append(Figure("plan", caption, alt, sheet.svg()))
    return Section("summary", w("summary.heading"), tuple(blocks))


def feature_sentence(told: Told, row: Any) -> str:
    """Say one feature in plain words."""
    w = told.words
    form = _form(row)
    class_name = text(row.get("class"))
    called = w("summary.class", word=class_name) if class_name and class_name != "unknown" else ""
    side = math.sqrt(row.geometry.area)
    sides = [number(row.get(key), 1) or number(side, 1) for key in ("length_m", "width_m")]
    return w(
        f"summary.{form}", id=text(row.get("id")) or "-", size=" by ".join(sides),
        length=number(row.get("length_m"), 1) or number(row.geometry.length, 1),
        **{"class": called}, depth=_depth(told, row), sure=_sure_words(told, row),
    ).replace("  ", " ")  # fmt: skip


def findings(told: Told) -> Section:
    """Tables of features, of quality levels, of what was rejected and of what stands above the ground."""
    w, made, rows = told.words, told.made, told.rows()
    blocks: list[Block] = []
    if rows:
        blocks.append(
            Table("features", w("findings.table"), tuple(w.items("findings.head")), tuple(_row(told, r) for r in rows),
                  "llwrrrrrrrrl", w("findings.note"))
        )  # fmt: skip
        levels = tuple(_level(told, r) for r in rows)
        blocks.append(
            Table("quality_levels", w("findings.levels"), tuple(w.items("findings.levels_head")), levels, "lllllww",
                  w("findings.levels_note"))
        )  # fmt: skip
    else:
        blocks.append(Notice(w("findings.none")))
    frames = [made.layer(name) for name in KINDS]
    refused = [
        text(r.get("id")) or "-" for f in frames for _, r in f.iterrows() if r.get("status") == "rejected"
    ]
    if rows or refused:
        blocks.append(Text(w.count("findings.rejected", len(refused), names=", ".join(refused))))
    candidates = len(made.layer("rejected"))
    if candidates:
        blocks.append(Text(w.count("findings.candidates", candidates)))
    above = made.layer("above_ground")
    if len(above):
        cells = tuple(
            (text(r["kind"]), number(r["nearest_m"]), text(r["lines"]), text(r["note"]))
            for _, r in above.iterrows()
        )
        blocks.append(
            Table("above_ground", w("findings.above"), tuple(w.items("findings.above_head")), cells, "lrwl")
        )
    return Section("findings", w("findings.heading"), tuple(blocks))


def _kinds(told: Told, rows: Sequence[Any]) -> str:
    w = told.words
    parts = []
    for form, key in (("line", "lines"), ("area", "areas"), ("point", "points")):
        n = sum(_form(row) == form for row in rows)
        if n:
            parts.append(w.count(f"summary.{key}", n))
    return ", ".join(parts)


def _form(row: Any) -> str:
    return _FORMS.get(row.geometry.geom_type.removeprefix("Multi"), "line")


def _sure(row: Any) -> float:
    value = row.get("confidence")
    return float(value) if value is not None and value == value else 1.0


def _depth(told: Told, row: Any) -> str:
    w = told.words
    said = row.get("depth_said_m")
    if said is not None and said == said:
        return w("summary.depth_said", said=number(said))
    top, sd = row.get("depth_top_m"), row.get("depth_sd_m")
    if top is None or top != top:
        return w("summary.depth_unknown")
    ends = [v for v in (row.get("depth_start_m"), row.get("depth_end_m")) if v is not None and v == v]
    if len(ends) == 2 and abs(ends[1] - ends[0]) > max(0.05, 2 * (sd if sd == sd else 0.0)):
        return w("summary.depth_sloping", shallow=number(min(ends)), deep=number(max(ends)), sd=number(sd))
    return w("summary.depth", top=number(top), sd=number(sd))


def _sure_words(told: Told, row: Any) -> str:
    w = told.words
    status = text(row.get("status"))
    by_person = w("summary.sure_person", status=status) if status in ("accepted", "drawn") else ""
    value = row.get("confidence")
    if value is None or value != value:
        return by_person
    level = "high" if value >= SURE else "mid" if value >= LIKELY else "low"
    return f"{w(f'summary.sure_{level}', confidence=number(value))} {by_person}".strip()


def _row(told: Told, row: Any) -> tuple[str, ...]:
    crossings = row.get("crossings")
    said = row.get("depth_said_m")
    top = number(row.get("depth_top_m"))
    if said is not None and said == said:
        top = f"{number(said)} stated" + (f" ({top} measured)" if top else "")
    counted = crossings is not None and crossings == crossings and math.isfinite(float(crossings))
    return (
        text(row.get("id")) or "-", told.words(f"findings.{_form(row)}"), text(row.get("class")), top,
        number(row.get("depth_sd_m")), number(row.get("depth_start_m")), number(row.get("depth_end_m")),
        number(row.get("length_m"), 1), number(row.get("width_m"), 1), number(row.get("confidence")),
        number(crossings, 0) if counted and _form(row) == "line" else "", text(row.get("status")),
    )  # fmt: skip


def _level(told: Told, row: Any) -> tuple[str, ...]:
    return (
        text(row.get("id")) or "-", text(row.get("quality_level")) or told.words("findings.not_set"),
        text(row.get("by")), text(row.get("when")), text(row.get("quality_level_suggested")),
        text(row.get("suggested_why")), text(row.get("note")),
    )  # fmt: skip
