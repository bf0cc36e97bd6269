"""Faults of place and order, as `gridmap.place` finds them, told as findings with what to do."""

from __future__ import annotations

import math

from gridmap.check.finding import Figure, Finding, Severity
from gridmap.check.setup import Setup
from gridmap.check.stretch import whole_line
from gridmap.place.corrections import Corrections
from gridmap.place.corrections import Finding as PlaceFinding

_SHORTENED = ("started late", "stopped early", "too few traces")
_KEYS = '[corrections] {} = "apply" in the site file'


def findings_of_place(found: Corrections, setup: Setup) -> list[Finding]:
    """Turn what is wrong with the places of lines into findings.

    Parameters
    ----------
    found : Corrections
        From `gridmap.place.corrections.estimate_corrections`; wheels may be among its findings.
    setup : Setup
        How much of a line may be missing.

    Returns
    -------
    list of Finding
        What the map puts right by itself is a note, and so is a shift of less than half a line spacing. Lines stored
        the wrong way round or exchanged need a word in the site file; ground that was not walked, and data that are
        lost, need walking.
    """
    shapes = {fault.name: fault.shape for fault in found.along}
    out: list[Finding] = []
    for f in found.findings:
        out += _turned_into(f, shapes.get(f.lines[0], "") if f.lines else "", setup)
    return out


def _turned_into(f: PlaceFinding, shape: str, setup: Setup) -> list[Finding]:
    words = f.words.removeprefix(f"line {f.lines[0]}: ") if f.lines else f.words
    unit = "ns" if f.kind == "level" else "m"
    figures: tuple[Figure, ...] = (Figure("size", f.size, unit),) if math.isfinite(f.size) else ()
    figures += (Figure("evidence", f.z, "deviations"),) if math.isfinite(f.z) else ()
    todo, severity = "", "note"
    kind = f.kind
    if kind == "along" and shape in _SHORTENED:
        kind = "short"
        hole = abs(f.size) > max(setup.line_spacing_m, setup.wavelength_m)
        severity = "walk again" if hole else "attention"
        todo = (
            "Walk it again from peg to peg."
            if hole
            else f"Or let the map put it right: {_KEYS.format('along')}."
        )
    elif kind == "duplicate":
        severity = "walk again"
        todo = f"Export {f.lines[0]} again from the recorder; where it is lost, walk it again."
    elif kind in ("reversed", "swapped") and not f.applied:
        severity = "attention"
        todo = f"Look in the field book; then {_KEYS.format(kind)}."
    elif kind in ("along", "displaced") and not f.applied:
        sure = abs(f.size) - (f.sd if math.isfinite(f.sd) else 0.0)
        severity = "attention" if sure > 0.5 * setup.line_spacing_m else "note"
        todo = f"Measure its pegs again and correct the site file, or {_KEYS.format(kind)}."
    elif kind in ("stagger", "wheel") and not f.applied:
        severity = "attention"
        todo = f"{_KEYS.format(kind).capitalize()}."
    names = f.lines if f.lines else ("",)
    if kind == "duplicate":
        names = f.lines[:1]
    return [whole_line(name, kind, _as(severity), figures, words, todo) for name in names]


def _as(severity: str) -> Severity:
    return "walk again" if severity == "walk again" else "attention" if severity == "attention" else "note"
