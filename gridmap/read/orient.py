"""Which axis of a matrix counts the traces, where nobody says: the one along which neighbours are alike.

A recorder moved by centimetres hears nearly the same again, the direct wave above all, while a waveform
changes from sample to sample. So the mean absolute difference between neighbours is smaller from trace to
trace.
"""

from __future__ import annotations

import numpy as np

from gridmap.errors import ReadError
from gridmap.model import Float32
from gridmap.model.layout import TracesIn

CLEAR = 1.25
"""Neighbours along one axis must be this many times rougher than along the other, or no guess is made."""


def guess_traces_in(cells: Float32) -> tuple[TracesIn, str]:
    """Guess from the samples whether rows or columns are traces.

    Parameters
    ----------
    cells : (row, column) float32
        Finite samples, without axes.

    Returns
    -------
    "rows" or "columns", and a note that says why.

    Raises
    ------
    ReadError
        If the samples do not tell; the file is not named.
    """
    rows, columns = cells.shape
    if rows == 1 or columns == 1:
        return (
            ("rows", "one row: taken as one trace")
            if rows == 1
            else ("columns", "one column: taken as one trace")
        )
    wide = cells.astype(np.float64)
    down = float(np.abs(np.diff(wide, axis=0)).mean())
    across = float(np.abs(np.diff(wide, axis=1)).mean())
    if not max(down, across) >= CLEAR * min(down, across) or max(down, across) == 0.0:
        raise ReadError(
            f"rows and columns are alike ({rows} by {columns}; neighbours differ by {down:.3g} down and "
            f'{across:.3g} across), so traces cannot be told from samples. State traces_in = "rows" or '
            '"columns" in '
            "the site file."
        )
    found: TracesIn = "rows" if down < across else "columns"
    low, high = sorted((down, across))
    words = "rows" if found == "rows" else "columns"
    ratio = f"{high / low:.1f} times as alike" if low > 0 else "alike"
    return found, f"traces taken to stand in {words}: neighbouring {words} are {ratio}"


def refuse_contradiction(cells: Float32, found: TracesIn, why: str) -> None:
    """Raise ReadError where the samples (row, column) clearly contradict what a name or a heading says."""
    try:
        judged, likeness = guess_traces_in(cells)
    except ReadError:
        return
    if judged != found and min(cells.shape) > 1:
        raise ReadError(
            f"{why}, so that traces would stand in {found}; but {likeness}. State traces_in in the site file."
        )
