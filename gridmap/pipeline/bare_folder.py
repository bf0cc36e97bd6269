"""A folder of line files without a site file: what can be told of it, and what cannot."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from gridmap.errors import GridmapError, ReadError
from gridmap.model import Line
from gridmap.pipeline.new_site import SKIPPED
from gridmap.read.sniff import choose_reader, read_line
from gridmap.site.records import Antenna, LinePlan, Site
from gridmap.site.rules import natural_key

NOMINAL_M = 0.05
"""Trace interval that is written on a plan where none is known."""
_TRIED = 3


@dataclass(frozen=True, slots=True)
class Bare:
    """A site made up from a folder.

    Attributes
    ----------
    site : Site
        Every line file, drawn beside each other; the antenna as stated or as the lines show it.
    unknown : tuple of str
        What nobody said and so is not checked.
    """

    site: Site
    unknown: tuple[str, ...]


def bare_site(what: Path, frequency_mhz: float | None) -> Bare | None:
    """Make a site from a folder that holds no site file.

    Parameters
    ----------
    what : Path
        A folder; anything else gives None, as does a folder with one site file.
    frequency_mhz : float or None
        Nominal frequency of the antenna; None: the middle of the spectrum of the first lines that can be read.

    Returns
    -------
    Bare or None
        None where there is a site file to go by.

    Raises
    ------
    ReadError
        If the folder holds no line file.
    """
    if not what.is_dir():
        return None
    sites = [p for p in what.glob("*.toml") if not p.name.startswith(".")]
    if len(sites) == 1:
        return None
    if sites:
        names = ", ".join(sorted(p.name for p in sites)[:4])
        raise ReadError(f"{what}: holds {len(sites)} site files ({names}). Give the one that is meant.")
    files = sorted(
        (p for p in what.rglob("*") if p.is_file() and _may_be_line(p, what)),
        key=lambda p: natural_key(p.relative_to(what).as_posix()),
    )
    if not files:
        raise ReadError(
            f"{what}: no line file in it. Give the folder that the recorder exports to, or a site file."
        )
    files, aside = _lines_among(files)
    mhz = frequency_mhz or frequency_of(files)
    line_names = _names(files)
    plans = tuple(
        bare_plan(name, path, i) for i, (name, path) in enumerate(zip(line_names, files, strict=True))
    )
    unknown = [
        "there is no site file: where lines lie, how long they should be, whether some are missing, swapped, reversed "
        "or displaced, and what stands beside the grid cannot be known",
        f"distances are drawn as if a trace were taken every {100 * NOMINAL_M:g} cm",
    ]
    if frequency_mhz is None:
        unknown.append(
            f"the antenna is taken for one of {mhz:.0f} MHz, from its echoes (--frequency-mhz states it)"
        )
    if aside:
        some = ", ".join(p.name for p in aside[:6]) + (
            f" and {len(aside) - 6} more" if len(aside) > 6 else ""
        )
        unknown.append(f"set aside, since their format is that of no line: {some}")
    site = Site(what.absolute() / "site.toml", what.absolute().name, Antenna(mhz, 0.0), plans)
    return Bare(site, tuple(unknown))


def bare_plan(name: str, path: Path, place: int) -> LinePlan:
    """Plan a line of which nothing is known: beside the others, metres, traces at the nominal interval."""
    y = float(place)
    return LinePlan(name, path, (0.0, y), (1.0, y), "wheel", (2.0, y), None, NOMINAL_M)


def _may_be_line(path: Path, root: Path) -> bool:
    hidden = any(part.startswith(".") for part in path.relative_to(root).parts)
    return not hidden and path.suffix.lower() not in SKIPPED


def _lines_among(files: list[Path]) -> tuple[list[Path], list[Path]]:
    """Part line files from others: a file of unknown format is a damaged line where a line has the same suffix.

    Where no file is known all are kept, so that each is told of.
    """
    known = [path for path in files if _known(path)]
    suffixes = {path.suffix.lower() for path in known}
    aside = [path for path in files if path.suffix.lower() not in suffixes] if known else []
    return [path for path in files if path not in aside], aside


def _known(path: Path) -> bool:
    try:
        choose_reader(path)
    except ReadError:
        return False
    return True


def _names(files: list[Path]) -> list[str]:
    """Stems, with what tells them apart where two are the same."""
    stems = [p.stem for p in files]
    return [
        s if stems.count(s) == 1 else f"{p.parent.name}-{p.name}" for s, p in zip(stems, files, strict=True)
    ]


def frequency_of(files: list[Path]) -> float:
    """Middle of the spectrum of the first readable lines, megahertz, to two digits."""
    found = []
    for path in files:
        try:
            line = read_line(path)
        except GridmapError:
            continue
        if len(line.traces) >= 20:
            found.append(_middle_mhz(line))
        if len(found) == _TRIED:
            break
    if not found:
        return 400.0
    return float(f"{np.median(found):.2g}")


def _middle_mhz(line: Line) -> float:
    """Centroid of the spectrum of what changes along a line, megahertz: wow and ringing are the same all along it."""
    traces, dt = line.traces, line.sample_interval_ns
    apart = max(1, len(traces) // 40)
    differ = (traces[apart:] - traces[:-apart])[:: max(1, len(traces) // 200)].astype(float)
    differ -= differ.mean(axis=1, keepdims=True)
    samples = differ.shape[1]
    edge = max(4, samples // 20)
    taper = np.ones(samples)
    taper[-edge:] = np.cos(0.5 * np.pi * np.arange(edge) / edge) ** 2
    power = np.median(np.abs(np.fft.rfft(differ * taper, 4 * samples)) ** 2, axis=0)
    mhz = np.fft.rfftfreq(4 * samples, dt * 1e-3)
    noise = float(np.median(power[3 * len(power) // 4 :]))
    echo = np.where(mhz > 3e3 / (samples * dt), np.maximum(power - 2.0 * noise, 0.0), 0.0)
    if not echo.any():
        return 400.0
    return float((echo * mhz).sum() / echo.sum())
