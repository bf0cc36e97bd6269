"""Backing up while recording: the traces come a second time in the opposite order."""

from __future__ import annotations

import numba as nb
import numpy as np

from gridmap.check.finding import Figure, Finding, Severity
from gridmap.check.likeness import Unlike, differences
from gridmap.check.stretch import stretch
from gridmap.model import Bool, Float64, Int64

_LEAST = 5
"""Traces that must be mirrored at least."""
_HALF_STEP = 0.3
"""Mirrored traces were taken up to half a step apart: besides noise they differ by a quarter of what a whole step does:
squares of differences grow with the square of short distances; some more is allowed."""
_SCATTER = 1.25
_LARGEST = 80
_SHARP, _SURE = 0.5, 0.25
"""Mirrored traces differ at most this share of what they do when the mirror is moved by `_MOVED`: ground that is alike
everywhere, or a reflector that lies flat, looks mirrored about any place."""
_MOVED = 4
_CAP = 0.4
"""And never more than this share of what traces of different places do: on coarse steps neighbours are strangers."""
_RESUMED = 1.6
"""After a break the line goes on where it was mirrored: that trace differs from the one there as neighbours do."""


def find_backing(line: str, unlike: Unlike, out: Bool, along_m: Float64) -> list[Finding]:
    """Find places about which the line is mirrored.

    Parameters
    ----------
    line : str
        Name of the line.
    unlike : Unlike
        From `gridmap.check.likeness.measure_unlike`.
    out : (trace,) bool
        Traces that mean nothing.
    along_m : (trace,) float64
        Distance along the line, metres.

    Returns
    -------
    list of Finding
        Kind "backed up", over all three passes. Who backs up and goes on walks a stretch three times: ahead, back and
        ahead again. So the line is mirrored about two places, and about both over the distance between them; or about
        one, and breaks off where the mirrored run ends, where the recorder was stopped there. A pipe crossed square
        draws a mirrored curve about one place, and no break.
    """
    count = len(unlike.table)
    half = min(_LARGEST, count // 3)
    reach = np.zeros(2 * count, np.int64)
    own, moved = np.zeros((2, 2 * count))
    _mirrored(unlike.table, _alike(unlike), half, _MOVED, out, reach, own, moved)
    sharp = (reach >= _LEAST) & (own < _SHARP * moved)
    pairs = []
    for c in np.flatnonzero(sharp).tolist():
        for back in range(_LEAST, min(int(reach[c]) + 1, half) + 1):
            other = c + 2 * back
            if other < len(sharp) and sharp[other] and reach[other] >= back - 1:
                pairs.append((float(moved[c] + moved[other] - own[c] - own[other]) * back, c, back))
    pairs += _broken_off(unlike, np.flatnonzero(sharp & (own < _SURE * moved)), reach, own, moved, half)
    found: list[tuple[int, int]] = []
    taken = np.zeros(count, bool)
    for _, c, length in sorted(pairs, reverse=True):
        first = (c + 1) // 2 - length
        last = min(c // 2 + 2 * length, count - 1)
        first = max(first, 0)
        if taken[first : last + 1].any():
            continue
        taken[first : last + 1] = True
        found.append((first, last))
    out_findings = []
    severity: Severity = "attention"
    for first, last in sorted(found):
        pulled_m = float(along_m[last] - along_m[first]) / 3
        out_findings.append(
            stretch(
                line,
                "backed up",
                severity,
                (first, last),
                along_m,
                (Figure("back", pulled_m, "m"),),
                f"the traces run back over themselves for about {pulled_m:.1f} m: pulled back while recording",
                "Walk the line again without pulling back, or end it there and start another.",
            )
        )
    return out_findings


def _alike(unlike: Unlike) -> float:
    """How much traces of one place may differ: noise, from D(h) = n + a h^2 at one and two steps, and half a step."""
    one, two = float(unlike.usual[1]), float(unlike.usual[2])
    noise = min(max((4.0 * one - two) / 3.0, 0.0), one)
    return min(_SCATTER * (noise + _HALF_STEP * (one - noise)), _CAP * _far(unlike))


def _far(unlike: Unlike) -> float:
    """How unlike traces of different places are."""
    return float(np.median(unlike.usual[_LEAST:]))


def _broken_off(
    unlike: Unlike, centres: Int64, reach: Int64, own: Float64, moved: Float64, half: int
) -> list[tuple[float, int, int]]:
    """Give mirrored runs that end in a break: what they are worth, centre in half steps, traces mirrored."""
    step = differences(unlike.table, 1)
    out = []
    for c in centres.tolist():
        back = int(reach[c])
        end = c // 2 + back  # last trace on the right
        here = slice(max(end - 1, 0), end + 2)
        least = max(2.0 * unlike.usual[1], 0.5 * _far(unlike))
        if not _LEAST < back < half or not step[here].size or step[here].max() < least:
            continue
        after = unlike.table[max(end - 1, 0) + int(step[here].argmax()) + 1]
        resumed = np.mean(np.square(unlike.table[c // 2 : c // 2 + 3] - after), axis=1)
        if resumed.min() < min(_RESUMED * unlike.usual[1], _CAP * _far(unlike)):
            out.append((float(moved[c] - own[c]) * back, c, back))
    return out


@nb.njit(cache=True, nogil=True)
def _difference(table, i, j):  # type: ignore[no-untyped-def]
    total = np.float32(0.0)
    for k in range(table.shape[1]):
        d = table[i, k] - table[j, k]
        total += d * d
    return total / np.float32(table.shape[1])


@nb.njit(cache=True, nogil=True)
def _mirrored(table, limit, half, shift, out, reach, own, moved):  # type: ignore[no-untyped-def]
    """For each half step of the line: how many pairs are mirrored, how they differ, and with the mirror moved."""
    count = len(table)
    for c in range(2, 2 * count - 3):  # the mirror lies at trace c / 2
        k, mine = 0, 0.0
        while k < half:
            left, right = (c + 1) // 2 - 1 - k, c // 2 + 1 + k
            if left < 0 or right >= count or out[left] or out[right]:
                break
            apart = _difference(table, left, right)
            if apart > 2.0 * limit or (k > 1 and mine + apart > limit * (k + 1)):
                break
            mine += apart
            k += 1
        reach[c] = k
        if k < 5:
            continue
        own[c] = mine / k
        least = 1e30
        for s in (-shift, shift):
            total, used = 0.0, 0
            for m in range(k):
                left, right = (c + 1) // 2 - 1 - m, c // 2 + 1 + m + s
                if 0 <= right < count and abs(right - left) >= shift and not out[right]:
                    total += _difference(table, left, right)
                    used += 1
            if used:
                least = min(least, total / used)
        moved[c] = least if least < 1e29 else 0.0
