"""What a check says: findings with their stretch, their size and what to do, and the verdict on a whole survey."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from gridmap.model import Float64
from gridmap.place.thin_path import thin_path

Severity = Literal["note", "attention", "walk again"]
SEVERITIES: tuple[Severity, ...] = ("walk again", "attention", "note")
"""Worst first: before leaving the site; look at it, the map can live with it; for the record."""

KINDS: dict[str, str] = {
    "unreadable": "file cannot be read",
    "missing": "line missing",
    "duplicate": "line there twice",
    "short": "line too short",
    "reversed": "line stored from end to start",
    "swapped": "lines exchanged",
    "displaced": "line beside its label",
    "along": "line shifted along",
    "stagger": "zig-zag stagger",
    "interval": "traces too far apart",
    "wheel": "wheel scale",
    "gap": "traces missing",
    "window": "record too short",
    "settings": "settings of the recorder differ",
    "time zero": "time zero jumps",
    "clipped": "clipped",
    "weak": "weak signal",
    "level": "amplitude differs from the neighbours'",
    "dead": "dead traces",
    "noisy": "noise floor",
    "tone": "interference at one frequency",
    "burst": "interference in bursts",
    "ringing": "ringing",
    "bump": "bump",
    "lifted": "antenna lifted",
    "stopped": "stopped while recording",
    "backed up": "backed up while recording",
    "turned": "swing or turn",
    "position": "position not known well",
    "above ground": "echo of something above the ground",
    "spacing": "lines too far apart",
    "coverage": "ground not covered",
    "reach": "reach",
}
"""Kind of finding and its name on a page."""


@dataclass(frozen=True, slots=True)
class Figure:
    """One number behind a finding, with its unit ("m", "ns", "MHz", "dB", "%", "traces", "" for a ratio)."""

    name: str
    value: float
    unit: str = ""


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that a line, or the survey, shows.

    Attributes
    ----------
    line : str
        The line's name; empty for the survey as a whole.
    kind : str
        A key of `KINDS`.
    severity : "note", "attention" or "walk again"
        See `SEVERITIES`.
    from_m, to_m : float
        Stretch along the line from its first trace in the order walked, metres; NaN: the whole line, or none.
    first_trace, last_trace : int or None
        The same in traces of the file, the first is 1, both included; a gap lies between the two. None: the whole
        line, or none.
    figures : tuple of Figure
        What was measured.
    words : str
        What is wrong, one sentence without the line's name.
    what_to_do : str
        One sentence for the crew; empty where nothing need be done.
    xy_m : (float, float) or None
        A place off the line that the finding speaks of, local metres, such as where a post stands.
    """

    line: str
    kind: str
    severity: Severity
    from_m: float
    to_m: float
    first_trace: int | None
    last_trace: int | None
    figures: tuple[Figure, ...]
    words: str
    what_to_do: str = ""
    xy_m: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True)
class CheckedLine:
    """One line as the plan shows it.

    Attributes
    ----------
    name : str
        The line.
    file : str
        Its file as the site file or folder names it.
    xy_m : (trace, 2) float64
        Placed antenna mid-points in file order, local metres. Where places are not known (`placed` is False) the line
        is drawn straight along x at its own y.
    along_m : (trace,) float64
        Distance from the first trace, metres.
    placed : bool
        Whether `xy_m` means anything on the ground.
    severity : "note", "attention", "walk again" or None
        Of its worst finding; None: nothing to say.
    """

    name: str
    file: str
    xy_m: Float64
    along_m: Float64
    placed: bool
    severity: Severity | None


@dataclass(frozen=True, slots=True)
class Verdict:
    """What the crew is told before it leaves.

    Attributes
    ----------
    complete : bool
        False: something must be walked again.
    findings : tuple of Finding
        Worst first.
    lines : tuple of CheckedLine
        Every line that could be read, in the order of the site file or folder.
    site : str
        Name of the site.
    site_words : tuple of str
        What holds for the survey as a whole: size, spacing, record, what was assumed, what cannot be known.
    """

    complete: bool
    findings: tuple[Finding, ...]
    lines: tuple[CheckedLine, ...]
    site: str
    site_words: tuple[str, ...] = ()

    @property
    def answer(self) -> Literal["complete", "walk again"]:
        """The verdict in a word or two."""
        return "complete" if self.complete else "walk again"

    def of_line(self, name: str) -> list[Finding]:
        """List the findings on one line, worst first."""
        return [f for f in self.findings if f.line == name]


def worst(findings: Iterable[Finding]) -> Severity | None:
    """Return the worst severity among findings; None where there are none."""
    ranks = [SEVERITIES.index(f.severity) for f in findings]
    return SEVERITIES[min(ranks)] if ranks else None


def worst_first(findings: Iterable[Finding], order: Sequence[str] = ()) -> tuple[Finding, ...]:
    """Sort findings: by severity, then the longest stretch, then by line in the given order, then along the line."""
    place = {name: i for i, name in enumerate(order)}

    def key(f: Finding) -> tuple[int, float, int, float, str]:
        stretch = f.to_m - f.from_m if math.isfinite(f.to_m - f.from_m) else math.inf
        start = f.from_m if math.isfinite(f.from_m) else 0.0
        return SEVERITIES.index(f.severity), -round(stretch, 3), place.get(f.line, -1), start, f.kind

    return tuple(sorted(findings, key=key))


def verdict_record(verdict: Verdict) -> dict[str, Any]:
    """Return a verdict as a mapping that JSON can hold: metres to the millimetre, unknown numbers None."""
    return {
        "site": verdict.site,
        "verdict": verdict.answer,
        "complete": verdict.complete,
        "site_words": list(verdict.site_words),
        "findings": [_finding_record(f) for f in verdict.findings],
        "lines": [
            {
                "name": line.name,
                "file": line.file,
                "placed": line.placed,
                "severity": line.severity,
                "traces": len(line.xy_m),
                **_path(line),
            }
            for line in verdict.lines
        ],
    }


def _path(line: CheckedLine) -> dict[str, Any]:
    """Places and distances of the vertices that tell every trace to the centimetre."""
    kept = thin_path(line.xy_m, line.along_m)
    return {
        "xy_m": [[_number(x), _number(y)] for x, y in line.xy_m[kept].tolist()],
        "along_m": [_number(a) for a in line.along_m[kept].tolist()],
    }


def _finding_record(f: Finding) -> dict[str, Any]:
    return {
        "line": f.line,
        "kind": f.kind,
        "name": KINDS[f.kind],
        "severity": f.severity,
        "from_m": _number(f.from_m),
        "to_m": _number(f.to_m),
        "first_trace": f.first_trace,
        "last_trace": f.last_trace,
        "figures": [{"name": g.name, "value": _number(g.value, 4), "unit": g.unit} for g in f.figures],
        "words": f.words,
        "what_to_do": f.what_to_do,
        "xy_m": None if f.xy_m is None else [_number(c) for c in f.xy_m],
    }


def _number(value: float, digits: int = 3) -> float | None:
    return round(float(value), digits) if math.isfinite(value) else None
