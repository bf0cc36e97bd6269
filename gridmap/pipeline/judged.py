"""Findings of the check as the map uses them: bad stretches count less, and the layer `check` says where."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from gridmap.check.finding import Finding
from gridmap.check.line import LineCheck, check_line
from gridmap.check.stretch import lost_severity
from gridmap.check.survey import check_survey
from gridmap.check.tracks import find_unsure_places
from gridmap.check.weights import left_out, noise_over_usual, weight_in_time, weights_in_words
from gridmap.condition.recipe import Conditioned
from gridmap.model import CleanLine
from gridmap.pipeline.check_setup import MEASURED, setup_of
from gridmap.pipeline.run import Run
from gridmap.place.corrections import Corrections
from gridmap.place.dispatch import Placed
from gridmap.site.records import LinePlan, Site

_BY_LENGTH = ("dead", "gap", "lifted", "burst")


class Judged:
    """Judges the lines of a survey as they are read, and remembers what was found.

    Parameters
    ----------
    site : Site
        Says antenna and lines.
    """

    def __init__(self, site: Site) -> None:
        self.site = site
        self.setup = setup_of(site, True)
        self._plain = replace(self.setup, line_spacing_m=0.5, velocity_m_per_ns=0.1, depth_m=None)
        self.checks: list[LineCheck] = []

    def judge(self, known: Placed, plan: LinePlan) -> LineCheck:
        """Judge one line by what it says itself, whatever else the site file says: the result may be kept."""
        check = check_line(known.line, self._plain, tracked=plan.placing in MEASURED)
        return replace(check, findings=(*check.findings, *find_unsure_places(known, self._plain)))

    @staticmethod
    def leave_out(line: CleanLine, check: LineCheck) -> CleanLine:
        """Leave traces out that were laid out as ground where the antenna never was; the arrays are changed."""
        gone = left_out(check.findings, len(line.usable))
        if not gone.any():
            return line
        line.traces[gone] = 0.0
        return replace(line, usable=line.usable & ~gone)

    def lighten(self, lines: Sequence[CleanLine], found: Corrections, signal: Conditioned) -> list[CleanLine]:
        """Let noisy stretches count less in the image; after the velocity, which weighs its evidence itself.

        Parameters
        ----------
        lines : sequence of CleanLine
            Put right; those that were turned have their traces in the other order.
        found : Corrections
            Says which were turned.
        signal : Conditioned
            Noise floors and the size of echoes with time.
        """
        turned = {f.lines[0] for f in found.findings if f.kind == "reversed" and f.applied}
        checks = {check.name: check for check in self.checks}
        floor = {ln.name: n.level for ln, n in zip(signal.lines, signal.noise, strict=True)}
        out = []
        for line in lines:
            check = checks.get(line.name)
            times = None if check is None else noise_over_usual(check.findings, len(check.along_m))
            if times is None or len(times) != len(line.usable) or (times == 1).all():
                out.append(line)
                continue
            times = times[::-1] if line.name in turned else times
            weight = weight_in_time(times, floor[line.name], signal.rms)
            out.append(replace(line, traces=np.asarray(line.traces * weight, np.float32)))
        return out

    def tell(self, checks: Sequence[LineCheck], run: Run) -> None:
        """Take what was found on all lines, and say what counts less."""
        self.checks = list(checks)
        counts = {c.name: len(c.along_m) for c in checks}
        words = weights_in_words({c.name: c.findings for c in checks}, counts)
        if words is not None:
            run.notes.append(f"weighed by the check: {words}; see the layer check of features.gpkg")

    def findings(self, found: Corrections) -> tuple[Finding, ...]:
        """Return all findings, worst first, with the severity that they have in this survey."""
        graded = [
            replace(check, findings=tuple(self._graded(f) for f in check.findings)) for check in self.checks
        ]
        return check_survey(
            self.site.name, graded, self.setup, places=found, size_m=self.site.size_m
        ).findings

    def _graded(self, f: Finding) -> Finding:
        if f.kind not in _BY_LENGTH or f.first_trace is None:
            return f
        return replace(f, severity=lost_severity(f.to_m - f.from_m, self.setup))
