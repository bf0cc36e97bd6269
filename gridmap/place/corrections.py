"""All faults of position looked for in one go, and those put right that the site file says to put right."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from gridmap.model import CleanLine
from gridmap.place.crossings import CrossingMisfit, misfits_of_groups
from gridmap.place.displaced import Displacement, find_displaced
from gridmap.place.late import AlongFault, find_along_faults
from gridmap.place.level import Level, levels_of_groups
from gridmap.place.order import OrderFinding, order_of_groups
from gridmap.place.stagger import Stagger, stagger_of_groups
from gridmap.place.strips import StripGroup, parallel_groups, strip_step_m, strips_of, thinned, usual_ghz
from gridmap.place.trace_count import Missing, missing_by_count
from gridmap.site.records import Corrections as Choices

_WIDE_M = 3.0
_CLEAR = 2.0
"""Mean square likeness as corrected over as labelled that leaves no doubt about a fault along the line."""


@dataclass(frozen=True, slots=True)
class Finding:
    """One fault, with its size and its evidence.

    Attributes
    ----------
    kind : str
        A key of [corrections] in the site file: wheel, stagger, reversed, swapped, duplicate, along, displaced, level.
    lines : tuple of str
        The lines concerned; empty for the whole survey.
    size, sd : float
        Metres (level: nanoseconds); NaN where the fault has no size.
    z : float
        Evidence in standard deviations or as the finder defines it.
    applied : bool
        Whether the site file says to put it right.
    words : str
        One sentence for a person.
    """

    kind: str
    lines: tuple[str, ...]
    size: float
    sd: float
    z: float
    applied: bool
    words: str


@dataclass(frozen=True, slots=True)
class Corrections:
    """What was found in a survey.

    Attributes
    ----------
    stagger : Stagger
        The estimate, significant or not.
    order : tuple of OrderFinding
        Reversed, swapped and duplicated lines.
    along : tuple of AlongFault
        Lines that lie off along the line.
    displaced : tuple of Displacement
        Lines that lie off across.
    levels : tuple of Level
        Of every line with two neighbours.
    crossings : tuple of CrossingMisfit
        Of every line that is crossed, after the corrections that are applied.
    findings : tuple of Finding
        All that stands out, in the order above.
    notes : tuple of str
        What cannot be told, and why.
    """

    stagger: Stagger
    order: tuple[OrderFinding, ...] = ()
    along: tuple[AlongFault, ...] = ()
    displaced: tuple[Displacement, ...] = ()
    levels: tuple[Level, ...] = ()
    crossings: tuple[CrossingMisfit, ...] = ()
    findings: tuple[Finding, ...] = ()
    notes: tuple[str, ...] = field(default=())

    def of_line(self, name: str) -> list[Finding]:
        """List the findings that concern one line."""
        return [f for f in self.findings if name in f.lines]


def estimate_corrections(
    lines: Sequence[CleanLine], interval_ns: float, choices: Choices | None = None
) -> Corrections:
    """Look for every fault of position that the data can show.

    Parameters
    ----------
    lines : sequence of CleanLine
        Conditioned, placed as the site file says.
    interval_ns : float
        Sample interval, nanoseconds.
    choices : gridmap.site.records.Corrections or None
        What to apply, to report, or not to look for; None: the defaults.

    Returns
    -------
    Corrections
        Stagger is found first and taken out for the rest. What else is wrong is looked for with reversed and
        swapped lines put right and copies left out, whatever the choices say.
    """
    choices = choices or Choices()
    notes: list[str] = []
    step_m = strip_step_m(usual_ghz(lines, interval_ns))
    lines, interval_ns = thinned(lines, interval_ns)
    stagger = stagger_of_groups(strips_of(lines, step_m=step_m))
    work = shift_along(lines, stagger.stagger_m) if stagger.significant else list(lines)
    order, note = order_of_groups(strips_of(work, step_m=step_m, smooth_m=_WIDE_M), work)
    notes += [note] if note else []
    order = [f for f in order if getattr(choices, f.kind) != "off"]
    right = _righted(lines, order)
    if order:
        stagger = stagger_of_groups(strips_of(right, step_m=step_m))
    work = shift_along(right, stagger.stagger_m) if stagger.significant else right
    if not stagger.known:
        notes.append(stagger.words)
    fine = strips_of(work, step_m=step_m)
    along, displaced, quiet = _off_their_place(
        fine,
        strips_of(work, step_m=step_m, smooth_m=_WIDE_M) if choices.displaced != "off" else [],
        missing_by_count(work),
        choices,
    )
    if quiet:
        names = ", ".join(quiet[:4]) + (f" and {len(quiet) - 4} more" if len(quiet) > 4 else "")
        notes.append(
            f"a late start or a shift along the line cannot be told for {names}: end lines, or too little in "
            "common with the neighbours"
        )
    odd = [*(d.name for d in displaced), *(a.name for a in along)]
    levels = levels_of_groups(fine, interval_ns, odd) if choices.level != "off" else []
    found_all = _findings(choices, stagger, order, along, displaced, levels)
    result = Corrections(
        stagger,
        tuple(order),
        tuple(along),
        tuple(displaced),
        tuple(levels),
        (),
        tuple(found_all),
        tuple(notes),
    )
    fixed = apply_corrections(lines, interval_ns, result)
    crossings = misfits_of_groups(strips_of(fixed, step_m=step_m), interval_ns)
    return replace(result, crossings=tuple(crossings))


def _off_their_place(
    fine: Sequence[StripGroup], wide: Sequence[StripGroup], counts: Mapping[str, Missing], choices: Choices
) -> tuple[list[AlongFault], list[Displacement], list[str]]:
    """Look for lines off along and across; a clear fault of one kind is not taken for the other."""
    first = [find_along_faults(group, (), counts) for group in fine]
    clear = [f.name for found, _ in first for f in found if f.after > _CLEAR * f.before or f.count_z > 0]
    displaced: list[Displacement] = []
    for group in wide:
        displaced += find_displaced(group, clear)
    along: list[AlongFault] = []
    quiet: list[str] = []
    if choices.along != "off":
        aside = [d.name for d in displaced]
        for group, known in zip(fine, first, strict=True):
            found, untold = find_along_faults(group, aside, counts) if aside else known
            along += found
            quiet += untold
    return along, displaced, quiet


def apply_corrections(lines: Sequence[CleanLine], interval_ns: float, found: Corrections) -> list[CleanLine]:
    """Put right what is marked as applied.

    Parameters
    ----------
    lines : sequence of CleanLine
        The lines that the corrections were estimated from.
    interval_ns : float
        Sample interval, nanoseconds.
    found : Corrections
        From `estimate_corrections`.

    Returns
    -------
    list of CleanLine
        New records in the same order; positions, traces and order corrected, copies left out.
    """
    use = [f for f in found.findings if f.applied]
    wanted = {(f.kind, f.lines) for f in use}
    right = _righted(lines, [f for f in found.order if (f.kind, f.lines) in wanted])
    by_name = {ln.name: ln for ln in right}
    faults: Mapping[str, AlongFault] = {a.name: a for a in found.along}
    normals = _normals(right)
    for f in use:
        if f.kind == "stagger":
            by_name = {ln.name: ln for ln in shift_along(list(by_name.values()), f.size)}
        elif f.lines[0] not in by_name:
            continue
        elif f.kind == "along":
            by_name[f.lines[0]] = _along(by_name[f.lines[0]], faults[f.lines[0]])
        elif f.kind == "displaced":
            line = by_name[f.lines[0]]
            by_name[line.name] = replace(line, xy_m=line.xy_m + f.size * normals[line.name])
        elif f.kind == "level":
            by_name[f.lines[0]] = _levelled(by_name[f.lines[0]], interval_ns, found.levels)
    return list(by_name.values())


def shift_along(lines: Sequence[CleanLine], ahead_m: float) -> list[CleanLine]:
    """Move every trace ahead in the walking direction, metres; new records."""
    moved = []
    for line in lines:
        d = line.xy_m[-1] - line.xy_m[0]
        length = float(np.hypot(*d))
        moved.append(replace(line, xy_m=line.xy_m + ahead_m * d / length) if length > 0 else line)
    return moved


def _normals(lines: Sequence[CleanLine]) -> dict[str, np.ndarray]:
    out = {}
    for axis, members in parallel_groups([ln.xy_m for ln in lines]):
        normal = np.array([-axis[1], axis[0]])
        for i in members:
            out[lines[i].name] = normal if normal.sum() >= 0 else -normal
    return out


def _turned(line: CleanLine) -> CleanLine:
    """Take a line that was stored from its end to its start into the order walked; its pegs stay."""
    return replace(
        line,
        xy_m=(line.xy_m[0] + line.xy_m[-1] - line.xy_m)[::-1],
        along_m=(line.along_m[-1] - line.along_m)[::-1],
        traces=line.traces[::-1],
        usable=line.usable[::-1],
    )


def _righted(lines: Sequence[CleanLine], order: Sequence[OrderFinding]) -> list[CleanLine]:
    """Lines with reversed and swapped ones put right and copies left out, for looking at what else is wrong."""
    by_name = {ln.name: ln for ln in lines}
    for f in order:
        if f.kind == "swapped":
            one, two = by_name[f.lines[0]], by_name[f.lines[1]]
            by_name[one.name], by_name[two.name] = _onto(one, two), _onto(two, one)
        elif f.kind == "reversed":
            by_name[f.lines[0]] = _turned(by_name[f.lines[0]])
    copies = {f.lines[0] for f in order if f.kind == "duplicate"}
    return [by_name[ln.name] for ln in lines if ln.name not in copies]


def _onto(line: CleanLine, place: CleanLine) -> CleanLine:
    share = line.along_m / line.along_m[-1]
    span = place.xy_m[-1] - place.xy_m[0]
    return replace(line, xy_m=place.xy_m[0] + share[:, None] * span, along_m=share * float(np.hypot(*span)))


def _along(line: CleanLine, fault: AlongFault) -> CleanLine:
    span = line.xy_m[-1] - line.xy_m[0]
    share = line.along_m / line.along_m[-1]
    weight = {"started late": 1.0 - share, "stopped early": -share, "shifted along": np.ones(len(share))}[
        fault.shape
    ]
    ahead = fault.size_m * weight
    along = line.along_m + ahead
    return replace(
        line, xy_m=line.xy_m + ahead[:, None] * span / float(np.hypot(*span)), along_m=along - along[0]
    )


def _levelled(line: CleanLine, interval_ns: float, levels: Sequence[Level]) -> CleanLine:
    level = next(v for v in levels if v.name == line.name)
    traces = line.traces
    zero = line.time_zero_ns
    if level.time_stands_out:
        sample = np.arange(traces.shape[1])
        at = sample + level.time_ns / interval_ns
        low = np.clip(np.floor(at).astype(int), 0, len(sample) - 2)
        part = np.clip(at - low, 0.0, 1.0).astype(np.float32)
        traces = traces[:, low] * (1 - part) + traces[:, low + 1] * part
        zero = zero + level.time_ns
    if level.factor_stands_out:
        traces = traces / np.float32(level.factor)
    return replace(line, traces=np.asarray(traces, np.float32), time_zero_ns=zero)


def _findings(
    choices: Choices,
    stagger: Stagger,
    order: Sequence[OrderFinding],
    along: Sequence[AlongFault],
    displaced: Sequence[Displacement],
    levels: Sequence[Level],
) -> list[Finding]:
    nan = float("nan")
    found = []
    if stagger.significant and choices.stagger != "off":
        z = abs(stagger.stagger_m) / stagger.sd_m
        found.append(
            Finding(
                "stagger", (), stagger.stagger_m, stagger.sd_m, z, choices.stagger == "apply", stagger.words
            )
        )
    found += [
        Finding(f.kind, f.lines, nan, nan, f.z, getattr(choices, f.kind) == "apply", f.words) for f in order
    ]
    found += [
        Finding(
            "along",
            (a.name,),
            a.size_m,
            a.sd_m,
            abs(a.size_m) / a.sd_m,
            choices.along == "apply" and a.shape != "too few traces",
            a.words,
        )
        for a in along
    ]
    found += [
        Finding("displaced", (d.name,), d.across_m, d.sd_m, d.z, choices.displaced == "apply", d.words)
        for d in displaced
    ]
    for v in levels:
        parts = []
        if v.time_stands_out:
            parts.append(
                f"its echoes come {v.time_ns:+.2f} ns later than its neighbours' (usual {v.time_sd_ns:.2f})"
            )
        if v.factor_stands_out:
            parts.append(f"its amplitude is {v.factor:.2f} times its neighbours'")
        if parts:
            z = (
                abs(v.time_ns) / v.time_sd_ns
                if v.time_stands_out
                else abs(float(np.log(v.factor))) / v.factor_sd
            )
            words = f"line {v.name}: {' and '.join(parts)}"
            found.append(
                Finding("level", (v.name,), v.time_ns, v.time_sd_ns, z, choices.level == "apply", words)
            )
    return found
