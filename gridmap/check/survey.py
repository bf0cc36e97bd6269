"""All lines judged together: what only a comparison can tell, and the verdict."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from gridmap.check.compare import compare_lines
from gridmap.check.coverage import find_edges, find_holes, rows_of, usual_spacing_m
from gridmap.check.finding import CheckedLine, Figure, Finding, Verdict, worst, worst_first
from gridmap.check.line import LineCheck
from gridmap.check.places import findings_of_place
from gridmap.check.setup import Setup
from gridmap.check.stretch import whole_line
from gridmap.model import Float64
from gridmap.place.corrections import Corrections

_SAME_MHZ = 12.0
_COMMON = 3


def check_survey(
    site: str,
    lines: Sequence[LineCheck],
    setup: Setup,
    known: Sequence[Finding] = (),
    *,
    places: Corrections | None = None,
    size_m: tuple[float, float] | None = None,
    words: Sequence[str] = (),
    absent: Mapping[str, Float64] | None = None,
) -> Verdict:
    """Judge a survey.

    Parameters
    ----------
    site : str
        Its name.
    lines : sequence of LineCheck
        Every line that could be read, in order.
    setup : Setup
        What is known of the survey.
    known : sequence of Finding
        What the reading told already, such as files that are not there, and what stands above the ground.
    places : Corrections or None
        What a comparison of the lines' echoes says of their places.
    size_m : (float, float) or None
        Stated size of the grid, metres.
    words : sequence of str
        What else holds for the whole survey.
    absent : mapping of str to (2, 2) float64, or None
        Planned ends of lines that are missing, metres: a finding of their own, no hole in the plan.

    Returns
    -------
    Verdict
        Complete unless a finding says to walk again. Interference that several lines share is told once.
    """
    found = [*known, *(f for line in lines for f in line.findings), *compare_lines(lines, setup)]
    if setup.placed and lines:
        by_name = {line.name: line.xy_m for line in lines} | dict(absent or {})
        by_name |= _where_walked(by_name, places)
        rows = rows_of(list(by_name), list(by_name.values()))
        found += find_holes(rows, by_name) + find_edges(rows, size_m)
    if places is not None:
        of_place = findings_of_place(places, setup)
        pairs = {name for f in places.findings if f.kind == "duplicate" for name in f.lines}
        found = [f for f in found if f.kind != "duplicate" or f.line not in pairs] + of_place
    found = _once(_explained(_shared(found, len(lines))))
    checked = tuple(
        CheckedLine(
            line.name,
            line.file,
            line.xy_m,
            line.along_m,
            setup.placed,
            worst(f for f in found if f.line == line.name),
        )
        for line in lines
    )
    ranked = worst_first(found, [line.name for line in lines])
    said = (*_site_words(lines, setup), *words)
    return Verdict(worst(ranked) != "walk again", ranked, checked, site, said)


def _where_walked(lines_xy_m: Mapping[str, Float64], places: Corrections | None) -> dict[str, Float64]:
    """Places of lines that were walked beside their label: a wrong label is a finding of its own, no hole."""
    moved = {d.name: d.across_m for d in places.displaced} if places is not None else {}
    out = {}
    for name in moved.keys() & lines_xy_m.keys():
        xy = lines_xy_m[name]
        axis = (xy[-1] - xy[0]) / max(float(np.hypot(*(xy[-1] - xy[0]))), 1e-9)
        normal = np.array([-axis[1], axis[0]])
        out[name] = xy + moved[name] * (normal if normal.sum() >= 0 else -normal)
    return out


def _explained(found: Sequence[Finding]) -> list[Finding]:
    """Drop what follows from another finding: a short line's wide interval, a clipped line's small direct wave."""
    short = {f.line for f in found if f.kind == "short"}
    clipped = {f.line for f in found if f.kind == "clipped"}
    walked = {f.line for f in found if f.kind in ("stopped", "backed up")}
    lost = {"interval": short, "weak": clipped, "noisy": clipped, "wheel": walked}
    return [f for f in found if not (f.line and f.line in lost.get(f.kind, ()))]


def _once(found: Sequence[Finding]) -> list[Finding]:
    """Drop what is said twice of one line: the count of traces and the neighbours' likeness both see it is short."""
    out: list[Finding] = []
    for f in sorted(found, key=lambda f: ("walk again", "attention", "note").index(f.severity)):
        twice = (
            f.first_trace is None
            and f.line
            and any(g.line == f.line and g.kind == f.kind and g.first_trace is None for g in out)
        )
        if not twice:
            out.append(f)
    return out


def _shared(found: Sequence[Finding], count: int) -> list[Finding]:
    """Tell once, for the survey, what several lines share: a tone, a trace interval, a record that is too short."""
    out = [f for f in found if f.kind not in ("tone", "interval", "window") or not f.line]
    for kind in ("interval", "window"):
        mine = [f for f in found if f.kind == kind and f.line]
        if len(mine) < max(_COMMON, 0.5 * count):
            out += mine
        else:
            first = max(mine, key=lambda f: f.severity == worst(mine))
            out.append(replace(first, line="", words=f"{first.words} (on {len(mine)} of {count} lines)"))
    tones = [f for f in found if f.kind == "tone" and f.line]
    while tones:
        mhz = tones[0].figures[0].value
        same = [f for f in tones if abs(f.figures[0].value - mhz) <= _SAME_MHZ]
        tones = [f for f in tones if f not in same]
        if len(same) < _COMMON:
            out += same
            continue
        middle = float(np.median([f.figures[0].value for f in same]))
        share = float(np.median([f.figures[1].value for f in same]))
        figures = (
            Figure("frequency", middle, "MHz"),
            Figure("share of the noise", share, "%"),
            Figure("lines", len(same), ""),
        )
        words = (
            f"interference at {middle:.0f} MHz on {len(same)} of {count} lines, {share:.0f} % of what changes from "
            "trace to trace"
        )
        out.append(whole_line("", "tone", worst(same) or "note", figures, words, same[0].what_to_do))
    return out


def _site_words(lines: Sequence[LineCheck], setup: Setup) -> tuple[str, ...]:
    """Say what was checked: lines, length, spacing, trace interval, record."""
    if not lines:
        return ("no line could be read",)
    traces = sum(len(line.along_m) for line in lines)
    said = [f"{len(lines)} lines, {traces} traces"]
    if setup.placed:
        step = float(np.median([np.median(np.diff(ln.along_m)) for ln in lines if len(ln.along_m) > 1]))
        rows = rows_of([ln.name for ln in lines], [ln.xy_m for ln in lines])
        spacing = usual_spacing_m(rows)
        apart = "" if spacing is None else f", lines {spacing:.2f} m apart"
        said = [
            f"{said[0]}, {sum(float(ln.along_m[-1]) for ln in lines):.0f} m{apart}, a trace every {100 * step:.1f} cm"
        ]
    record = float(np.median([(ln.samples - 1) * ln.sample_interval_ns - ln.zero_ns for ln in lines]))
    reach = 0.5 * setup.velocity_m_per_ns * record
    sure = "" if setup.velocity_known else " if waves run at the usual"
    said.append(
        f"the record holds {record:.0f} ns after time zero: {reach:.2f} m{sure or ' at'} "
        f"{setup.velocity_m_per_ns:g} m/ns"
    )
    if setup.depth_m is None:
        said.append(
            "nobody said how deep it should see (--depth-m), so the length of the record is not judged"
        )
    return tuple(said)
