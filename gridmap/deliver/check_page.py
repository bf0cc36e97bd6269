"""The check page: verdict, plan, list and radargrams in one file that opens on a tablet, offline."""

from __future__ import annotations

import base64
import hashlib
import html
import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from gridmap.check.finding import KINDS, CheckedLine, Finding, Verdict
from gridmap.check.finding_words import ANSWERS, count_words, stretch_words
from gridmap.deliver.caution import CAUTION, CAUTION_SHORT
from gridmap.deliver.check_radargram import CheckRadargram
from gridmap.deliver.colours import table
from gridmap.deliver.html import hash_source, joined_modules, json_in_html
from gridmap.errors import OurFaultError
from gridmap.files import write_text
from gridmap.place.thin_path import thin_path

_ASSETS = Path(__file__).parent / "assets"
_TABLES = (("grey", "Grey"), ("blue-orange", "Orange"), ("cividis", "Yellow"))
_SIGNS = {
    True: '<circle cx="24" cy="24" r="21" fill="none" stroke="#fff" stroke-width="4"/>'
    '<path d="M13 25l8 8 14-17" fill="none" stroke="#fff" stroke-width="5"/>',
    False: '<path d="M15 3h18l12 12v18l-12 12H15L3 33V15z" fill="none" stroke="#fff" stroke-width="4"/>'
    '<path d="M24 12v15M24 32v5" fill="none" stroke="#fff" stroke-width="6"/>',
}
_GAIN = "Amplitude in percent of 4 times what is usual at that time on this line, slow swing taken off"


@dataclass(frozen=True, slots=True)
class CheckPage:
    """All that the page shows.

    Attributes
    ----------
    verdict : Verdict
        Findings and lines.
    radargrams : mapping of str to CheckRadargram
        One for every line of the verdict, by name.
    velocity_m_per_ns : float
        What depths beside the radargrams are reckoned with.
    velocity_known : bool
        Whether somebody stated it.
    """

    verdict: Verdict
    radargrams: Mapping[str, CheckRadargram]
    velocity_m_per_ns: float
    velocity_known: bool = False


def write_check_page(path: Path, page: CheckPage) -> None:
    """Write the page, whole or not at all.

    Parameters
    ----------
    path : Path
        The HTML file.
    page : CheckPage
        What it shows.

    Raises
    ------
    OurFaultError
        If a line has no radargram.
    """
    write_text(path, check_page_text(page))


def check_page_text(page: CheckPage) -> str:
    """Return the page as text; see `write_check_page`."""
    verdict = page.verdict
    missing = [line.name for line in verdict.lines if line.name not in page.radargrams]
    if missing:
        raise OurFaultError(f"check page: line {missing[0]} has no radargram")
    style = (_ASSETS / "check_page.css").read_text(encoding="utf-8")
    script = f'"use strict";\n(() => {{\n{joined_modules("checkpage.js")}}})();\n'
    parts = {
        "ANSWER": "complete" if verdict.complete else "again",
        "ANSWER_WORDS": ANSWERS[verdict.complete],
        "SIGN": _SIGNS[verdict.complete],
        "COUNTS": html.escape(count_words(verdict)),
        "SITE": html.escape(verdict.site),
        "TITLE": html.escape(f"{ANSWERS[verdict.complete]}: {verdict.site}"),
        "CAUTION": html.escape(CAUTION),
        "CAUTION_SHORT": html.escape(CAUTION_SHORT),
        "POLICY": html.escape(
            f"default-src 'none'; script-src '{hash_source(script)}'; style-src '{hash_source(style)}'; "
            "img-src data:; base-uri 'none'; form-action 'none'"
        ),
        "STYLE": style,
        "SCRIPT": script,
        "DATA": json_in_html(_page_json(page)),
        "RADARGRAMS": "\n".join(page.radargrams[line.name].text for line in verdict.lines),
    }
    template = (_ASSETS / "check_page.html").read_text(encoding="utf-8")
    return re.sub(r"\{\{([A-Z_]+)\}\}", lambda found: parts[found.group(1)], template)


def _page_json(page: CheckPage) -> dict[str, Any]:
    verdict = page.verdict
    posts = np.array([f.xy_m for f in verdict.findings if f.xy_m is not None]).reshape(-1, 2)
    places = (
        np.concatenate([posts, *(line.xy_m for line in verdict.lines)]) if verdict.lines else np.zeros((1, 2))
    )
    low, high = places.min(axis=0), places.max(axis=0)
    index = {line.name: k for k, line in enumerate(verdict.lines)}
    placed = all(line.placed for line in verdict.lines)
    findings = [_finding(f, k, index, placed) for k, f in enumerate(verdict.findings, 1)]
    known = "stated" if page.velocity_known else "assumed"
    return {
        "key": hashlib.sha256(json.dumps([verdict.site, findings]).encode()).hexdigest()[:16],
        "placed": placed,
        "bounds": [*np.round(low, 3).tolist(), *np.round(high, 3).tolist()],
        "spacing": round(_spacing(verdict.lines), 3),
        "velocity": page.velocity_m_per_ns,
        "depthWords": f"Depth with {page.velocity_m_per_ns:.3g} m/ns, {known}.",
        "gain": _GAIN,
        "siteWords": list(verdict.site_words),
        "findings": findings,
        "lines": [_line(line, k, page.radargrams[line.name]) for k, line in enumerate(verdict.lines)],
        "tables": [
            {"label": label, "rgb": base64.b64encode(table(name).tobytes()).decode("ascii")}
            for name, label in _TABLES
        ],
    }


def _finding(f: Finding, number: int, index: Mapping[str, int], placed: bool) -> dict[str, Any]:
    stretched = bool(np.isfinite(f.from_m) and np.isfinite(f.to_m))
    return {
        "number": number,
        "line": index.get(f.line, -1),
        "name": f.line,
        "title": KINDS[f.kind],
        "severity": f.severity,
        "from": round(f.from_m, 3) if stretched else None,
        "to": round(f.to_m, 3) if stretched else None,
        "stretch": stretch_words(f, placed),
        "words": f.words.rstrip("."),
        "act": f.what_to_do,
        "xy": None if f.xy_m is None else [round(c, 3) for c in f.xy_m],
    }


def _line(line: CheckedLine, block: int, radargram: CheckRadargram) -> dict[str, Any]:
    kept = thin_path(line.xy_m, line.along_m)
    return {
        "name": line.name,
        "severity": line.severity,
        "traces": len(line.xy_m),
        "length": round(float(line.along_m[-1]), 3),
        "path": np.round(line.xy_m[kept], 3).tolist(),
        "along": np.round(line.along_m[kept], 3).tolist(),
        "radargram": {
            "block": block,
            "rows": radargram.traces,
            "columns": radargram.samples,
            "along": np.round(radargram.along_m, 2).tolist(),
            "numbers": radargram.first_trace.tolist(),
            "start": round(radargram.start_ns, 3),
            "step": round(radargram.step_ns, 4),
            "tracesJoined": radargram.traces_joined,
            "samplesJoined": radargram.samples_joined,
        },
    }


def _spacing(lines: Sequence[CheckedLine]) -> float:
    """Usual distance from a line to the nearest that runs alike, metres: how wide a line may be drawn."""
    if len(lines) < 2:
        return 1.0
    middle = np.array([line.xy_m[len(line.xy_m) // 2] for line in lines])
    way = np.array([line.xy_m[-1] - line.xy_m[0] for line in lines])
    way /= np.maximum(np.linalg.norm(way, axis=1, keepdims=True), 1e-9)
    apart = middle[:, None] - middle[None]
    off = np.abs(apart[..., 0] * way[:, None, 1] - apart[..., 1] * way[:, None, 0])
    off[(np.abs(way @ way.T) < 0.9) | (off < 1e-3)] = np.inf
    nearest = off.min(axis=1)
    nearest = nearest[np.isfinite(nearest)]
    return float(np.median(nearest)) if nearest.size else 1.0
