"""What the receiver of a hand-over reads: layers in drawing order, every column and its unit, how to open it."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence

from gridmap.deliver.caution import CAUTION
from gridmap.read.made_map import MadeMap

LAYERS: Mapping[str, tuple[str, str]] = {
    "linear": ("Long, narrow echoes", "what may be pipes, cables, drains or walls"),
    "outlines": ("Echoes with an area", "what may be tanks, slabs, pits, graves or voids"),
    "points": ("Small echoes", "small things, neither long nor wide, and places that a person marked"),
    "above_ground": ("Things above the ground", "echoes that came through the air; nothing of it is buried"),
    "control": (
        "Control points",
        "points known in the grid and on the map, with what is left over after the fit",
    ),
    "lines_walked": (
        "Lines walked",
        "where the antenna went, in the direction walked; elsewhere nothing was measured",
    ),
    "check": ("Check of the fieldwork", "stretches of lines to look at or walk again, and why"),
    "rejected": (
        "Candidates left out",
        "what did not become a feature, each with the reason; hidden by most readers",
    ),
    "as_found": ("Shapes as found", "for the program alone, so that a moved shape is known; do not edit"),
}
"""Layers of the GeoPackage from the top of the drawing down: title and what it is."""

COLUMNS: Mapping[str, str] = {
    "id": "identity; L a line, A an area, P a point, R a candidate",
    "status": "found, accepted, rejected or drawn; a person's to set",
    "class": "what it is, as a person says; unknown: an echo does not tell",
    "quality_level": "quality level as a licensed person set it; empty: not set",
    "depth_said_m": "metres below the ground, as a person states",
    "note": "a person's, or the program's on lines and points",
    "by": "who said it",
    "when": "when",
    "depth_top_m": "metres from the ground down to the top",
    "depth_sd_m": "metres, one standard deviation of the depth, velocity and time zero included",
    "depth_start_m": "metres, depth of the top at the first vertex",
    "depth_end_m": "metres, depth of the top at the last vertex",
    "length_m": "metres",
    "width_m": "metres",
    "thickness_m": "metres from top to base, where both answer",
    "area_m2": "square metres",
    "bearing_deg": "degrees clockwise from map north, of the longer side",
    "strength": "strength of the echo over that of the ground at its depth, a ratio",
    "confidence": "0 to 1: share of features called so that were real on simulated ground",
    "crossings": "how many lines show it in their own traces",
    "polarity": "how the echo begins: as the direct wave, reversed or unclear; evidence says what it may mean",
    "evidence": "what it rests on",
    "quality_level_suggested": "a suggestion and no more",
    "suggested_why": "its reason",
    "kind": "form of a candidate, what stands above the ground, or what the check found",
    "line": "name of a line",
    "severity": "note, attention or walk again",
    "words": "what is wrong",
    "todo": "what to do about it",
    "from_m": "metres along the line from its first trace; empty: the whole line",
    "to_m": "metres along the line, end of the stretch",
    "reason": "why a candidate was left out",
    "name": "name of a line or a point",
    "file": "its data file",
    "direction_deg": "degrees clockwise from map north, as walked",
    "traces": "count of traces",
    "trace_interval_m": "metres, median",
    "dropped_traces": "trace numbers missing",
    "samples": "samples a trace",
    "sample_interval_ns": "nanoseconds",
    "left_out": "traces not used",
    "crossing_cm": "centimetres, misfit where lines cross",
    "crossing_ns": "nanoseconds, misfit where lines cross",
    "findings": "what stands out",
    "local_x_m": "metres along the baseline",
    "local_y_m": "metres across it",
    "easting_m": "metres",
    "northing_m": "metres",
    "residual_cm": "centimetres between surveyed and fitted",
    "residual_east_cm": "centimetres, eastward part",
    "residual_north_cm": "centimetres, northward part",
    "runs_deg": "degrees clockwise from map north, of a wall",
    "nearest_m": "metres to the nearest trace",
    "coherence": "0 to 1: how well one place explains the echo",
    "lines": "lines that show it",
}
"""Columns of the layers, with their unit."""


def readme_text(
    made: MadeMap,
    site: str,
    crs: str,
    files: Sequence[tuple[str, str]],
    notes: Sequence[str],
    said: Mapping[str, str],
) -> str:
    """Write the README for the receiver.

    Parameters
    ----------
    made : MadeMap
        The map.
    site, crs : str
        Name of the site; its co-ordinate system in words.
    files : sequence of (str, str)
        Name and what it is, in the order in which to draw them, the uppermost first.
    notes : sequence of str
        What is left out, and why.
    said : mapping of str to str
        Company, contact and the like.
    """
    velocity = made.velocity()
    from_whom = [
        f"{key}: {said[key]}" for key in ("company", "author", "contact", "reference", "date") if key in said
    ]
    rows = [
        f"{site}: ground-penetrating radar survey",
        "=" * 72,
        "",
        *from_whom,
        *([""] if from_whom else []),
    ]
    rows += ["BEFORE ANYBODY DIGS", *_wrapped(CAUTION), ""]
    rows += ["CO-ORDINATES"]
    rows += _wrapped(
        f"{crs}, metres. Z of a shape: see the description of its layer; minus the depth below the ground where no"
        f" height is known. Depths rest on {velocity.mean_m_per_ns():.4f} m/ns, standard deviation"
        f" {velocity.sd_m_per_ns:.4f} m/ns, from {velocity.source}."
    )
    rows.append("")
    rows += ["FILES, the uppermost in the drawing first"]
    for name, what in files:
        rows += [f"  {name}", *_wrapped(what, "      ")]
    rows += ["", "LAYERS OF THE GEOPACKAGE, the uppermost in the drawing first"]
    for name, (title, what) in LAYERS.items():
        if name in made.layers:
            rows += [f"  {name}: {title}, {len(made.layer(name))}", *_wrapped(what, "      ")]
    rows += ["", "COLUMNS AND UNITS"]
    there = {str(c) for frame in made.layers.values() for c in frame.columns if c != frame.geometry.name}
    rows += [
        row
        for column, what in COLUMNS.items()
        if column in there
        for row in _wrapped(f"{column}: {what}", "  ", "      ")
    ]
    own = sorted(there - set(COLUMNS))
    if own:
        rows += _wrapped(f"Columns that a person added: {', '.join(own)}.", "  ")
    rows += ["", "HOW TO OPEN IT"]
    rows += _wrapped(
        "Drag the GeoPackage and the GeoTIFFs into the map; styles are in the GeoPackage, and beside each GeoTIFF as a"
        " .qml of the same name. styles/ holds the same as SLD for a map server. Draw in the order above. CAD: the DXF,"
        " units are metres. Phone: the KML. 3D: the GLB, axes in its extras."
    )
    rows += ["", "FINGERPRINTS"]
    rows += _wrapped("SHA256SUMS lists the SHA-256 of every file; sha256sum -c SHA256SUMS checks them.")
    for note in notes:
        rows += ["", *_wrapped(f"Note: {note}")]
    return "\n".join(rows) + "\n"


def _wrapped(words: str, first: str = "", rest: str | None = None) -> list[str]:
    return textwrap.wrap(words, 96, initial_indent=first, subsequent_indent=first if rest is None else rest)


def title_of(name: str) -> str:
    """Title of a layer of the GeoPackage; its name where we know of none."""
    return LAYERS[name][0] if name in LAYERS else name
