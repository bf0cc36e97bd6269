"""Sections about the survey itself: limits, site, methods, archive, provenance."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from typing import Any

import numpy as np

from gridmap.deliver.report_blocks import Block, Bullets, Facts, Notice, Section, Subheading, Table, Text
from gridmap.deliver.report_findings import LIKELY
from gridmap.deliver.report_ground import reach_share
from gridmap.deliver.report_told import Told, number, text
from gridmap.files import sha256

MOST_INPUTS = 14
"""Files named in print; the data appendix has all."""
_DEEP = 3


def limits(told: Told) -> Section:
    """Say what the survey cannot say, from what it is."""
    w = told.words
    items = w.items("limits.always")
    low, (line, _, both) = reach_share(told, 0.9), told.spacing()
    if np.isfinite(low):
        items.append(w("limits.below_reach", depth=number(low, 1)))
    items.append(w("limits.spacing", spacing=number(line)))
    if not both:
        items.append(w("limits.one_way"))
    if not told.made.record.get("control") and not told.settings.get("site", {}).get("crs"):
        items.append(w("limits.untied"))
    if not (told.made.record.get("velocity_evidence") or {}).get("ties"):
        items.append(w("limits.no_ties"))
    items.append(w("limits.records"))
    doubtful = sum(
        float(r["confidence"]) < LIKELY for r in told.rows() if r.get("confidence") == r.get("confidence")
    )
    if doubtful:
        items.append(w.count("limits.doubtful", doubtful))
    blocks: list[Block] = [
        Bullets(tuple(items)),
        Notice(str(told.made.record.get("caution", "")), w("limits.safety")),
    ]
    if len(told.made.layer("outlines")):
        blocks.append(Text(w("limits.tanks")))
    return Section("limits", w("limits.heading"), tuple(blocks))


def site(told: Told) -> Section:
    """Facts of the site and of the survey."""
    w, settings = told.words, told.settings.get("site", {})
    antenna = settings.get("antenna", {})
    line, trace, both = told.spacing()
    rows = [
        (w("site.description"), text(settings.get("description"))),
        (w("facts.crs"), told.crs_words()),
        (w("site.corners"), corners(told)),
        (w("site.surveyed_area"), f"{told.hull().area:.0f} m²"),
        (w("site.lines"), str(len(told.made.layer("lines_walked")))),
        (w("site.metres"), f"{told.walked_m():.0f} m"),
        (w("site.spacing"), w("site.spacing_words", line=number(line), trace=number(trace, 3),
                              directions=w("site.both" if both else "site.one"))),
        (w("site.antenna"), w("site.antenna_words", frequency=number(antenna.get("frequency_mhz"), 0),
                              separation=number(antenna.get("separation_m")), height=number(antenna.get("height_m")))),
        (w("site.instrument"), told.known("instrument")),
        (w("site.conditions"), told.known("conditions")),
        (w("facts.surveyed"), told.known("surveyed")),
        (w("site.heights"), w("site.heights_known" if told.settings.get("terrain") else "site.heights_unknown")),
        (w("site.control"), str(len(told.made.layer("control")))),
    ]  # fmt: skip
    return Section("site", w("site.heading"), (Facts(tuple(row for row in rows if row[1])),))


def methods(told: Told) -> Section:
    """Tell what was done and with which settings."""
    w = told.words
    notes = tuple(text(n) for n in told.made.record.get("notes", []))
    rows = tuple(
        (_said_unit(step), _said_unit(name), value)
        for step in ("recipe", "spacing", "gridding", "decay", "imaging", "cell_m", "slice_thickness_m")
        for name, value in _flat(told.settings.get(step), step)
        if value != ""
    )
    blocks: list[Block] = [
        Text(w("methods.about")),
        Subheading(w("methods.assumed")),
        Bullets(notes) if notes else Text(w("methods.none")),
        Table("settings", w("methods.settings"), tuple(w.items("methods.head")), rows, "llw"),
    ]
    return Section("methods", w("methods.heading"), tuple(blocks))


def archive(told: Told) -> Section:
    """Tell what archives of geophysical surveys ask for."""
    w, record = told.words, told.made.record
    inputs = record.get("inputs", [])
    evidence: Mapping[str, Any] = record.get("velocity_evidence") or {}
    size = sum(int(f.get("bytes") or 0) for f in inputs) / 1e6
    line, trace, both = told.spacing()
    purpose = told.said.get("purpose") or text(told.settings.get("site", {}).get("description"))
    makers = ", ".join(told.said[k] for k in ("company", "author", "contact") if k in told.said)
    counts = {"n": len(evidence.get("hyperbolas") or []), "ties": len(evidence.get("ties") or [])}
    rows = (
        (w("archive.title"), f"{w('report.title')}: {told.site}"),
        (w("archive.index"), told.known("reference")),
        (w("archive.purpose"), purpose or told.known("purpose")),
        (w("archive.keywords"), told.known("keywords")),
        (w("archive.creator"), makers or told.known("company")),
        (w("archive.surveyed"), told.known("surveyed")),
        (w("archive.corners"), corners(told)),
        (w("archive.datum"), told.crs_words()),
        (w("archive.type"), w("archive.type_words")),
        (w("site.instrument"), told.known("instrument")),
        (w("site.spacing"), w("site.spacing_words", line=number(line), trace=number(trace, 3),
                              directions=w("site.both" if both else "site.one"))),
        (w("archive.orientation"), _bearings(told)),
        (w("archive.calibrated"), w("archive.calibrated_words", **counts)),
        (w("archive.not_found"), w("archive.not_found_words")),
        (w("archive.raw"), w("archive.raw_words", n=len(inputs), size=number(size, 1))),
        (w("archive.processed"), w("archive.processed_words")),
        (w("archive.rights"), told.known("rights")),
        (w("archive.archive"), told.known("archive")),
    )  # fmt: skip
    return Section("archive", w("archive.heading"), (Text(w("archive.about")), Facts(rows)))


def provenance(told: Told) -> Section:
    """Version and fingerprints."""
    w, made = told.words, told.made
    version = text(made.record.get("version"))
    inputs = made.record.get("inputs", [])
    joined = "".join(f"{f['sha256']}  {f['path']}\n" for f in inputs)
    facts = (
        (w("provenance.software"), f"gridmap {version}"),
        (w("provenance.record"), sha256(made.folder / "run.json")),
        (w("provenance.layers"), sha256(made.folder / "features.gpkg")),
        (w("provenance.all_inputs"), hashlib.sha256(joined.encode()).hexdigest()),
    )
    blocks: list[Block] = [Text(w("provenance.about", version=version)), Facts(facts), Text(w("provenance.all_note")),
                           Text(w("provenance.edited"))]  # fmt: skip
    table = all_inputs(told)
    note = w("report.see_data", file="inputs.csv") if len(inputs) > MOST_INPUTS else ""
    blocks.append(
        Table("inputs_named", w("provenance.inputs"), table.head, table.rows[:MOST_INPUTS], "wrl", note)
    )
    return Section("provenance", w("provenance.heading"), tuple(blocks))


def all_inputs(told: Told) -> Table:
    """Every input file with its fingerprint."""
    rows = tuple(
        (text(f["path"]), str(f["bytes"]), text(f["sha256"])) for f in told.made.record.get("inputs", [])
    )
    return Table(
        "inputs", told.words("provenance.inputs"), tuple(told.words.items("provenance.head")), rows, "wrl"
    )


def corners(told: Told) -> str:
    """South-west and north-east corner of the map."""
    west, south, east, north = told.made.raster.bounds
    return f"{number(west)}, {number(south)}; {number(east)}, {number(north)}"


def _bearings(told: Told) -> str:
    turns = told.made.layer("lines_walked")["direction_deg"].to_numpy(dtype=float)
    both = sorted({round(float(t)) % 360 for t in turns[np.isfinite(turns)]})
    return ", ".join(str(b) for b in both[:8]) + (", ..." if len(both) > 8 else "")


def _flat(value: object, name: str, depth: int = 0) -> list[tuple[str, str]]:
    """List settings one a row; names joined by spaces."""
    if isinstance(value, Mapping) and depth < _DEEP:
        inner = [(key, item) for key, item in value.items() if key != "steps"]
        inner += list(value.get("steps", {}).items()) if depth == 0 else []
        named = dict(reversed(inner))  # what was worked out stands for what was asked
        return [
            row for key, item in reversed(named.items())
            for row in _flat(item, key if depth == 0 else f"{name} {key}", depth + 1)
        ]  # fmt: skip
    if value is None:
        return []
    if isinstance(value, list | tuple):
        return [(text(name), ", ".join(_one(v) for v in value))]
    return [(text(name), _one(value))] if value != "" else []


def _said_unit(name: str) -> str:
    """Write the name of a setting in words, its unit last: "dewow_ns" as "dewow, ns"."""
    for ending, unit in (
        ("_m_per_ns", "m/ns"),
        ("_per_ns", "1/ns"),
        ("_ns", "ns"),
        ("_mhz", "MHz"),
        ("_db", "dB"),
        ("_m", "m"),
    ):
        if name.endswith(ending):
            return f"{name.removesuffix(ending).replace('_', ' ')}, {unit}"
    return name.replace("_", " ")


def _one(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:.6g}" if isinstance(value, float) else text(value)
