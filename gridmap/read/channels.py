"""One channel out of a file that holds all channels of an array in turn."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from gridmap.errors import ReadError
from gridmap.model import Line


def channel_of(line: Line, channel: int, channels: int, name: str) -> Line:
    """Take every `channels`-th trace of a file, from trace `channel` on.

    Parameters
    ----------
    line : Line
        The whole file: trace 1 is of channel 1, trace 2 of channel 2, and so on, round and round.
    channel : int
        Which one, from 0.
    channels : int
        How many there are.
    name : str
        Of the channel's line.

    Returns
    -------
    Line
        Its traces, with times and co-ordinates where the file has them. Trace numbers of the file count channels, not
        triggers: they are divided by the channels where they rise by whole rounds, else left out.

    Raises
    ------
    ReadError
        If the traces do not make whole rounds.
    """
    count = len(line.traces)
    if count % channels:
        raise ReadError(
            f"{line.source}: {count} traces, which {channels} channels do not divide. Correct channels in [[swaths]],"
            " or export the swath again."
        )
    own = slice(channel, None, channels)
    number = None if line.trace_number is None else line.trace_number[own]
    if number is not None and (np.diff(number) % channels).any():
        number = None
    return replace(
        line,
        name=name,
        traces=np.ascontiguousarray(line.traces[own]),
        trace_number=None if number is None else (number - number[0]) // channels + 1,
        time_s=None if line.time_s is None else line.time_s[own],
        header_xy=None if line.header_xy is None else line.header_xy[own],
    )
