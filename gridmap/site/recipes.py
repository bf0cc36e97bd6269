"""Recipes: which conditioning steps a survey gets, with which settings, read from TOML."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from importlib import resources
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import Any, Literal

from gridmap.errors import SiteError
from gridmap.site.keys import Table, row_of, shown, suggestion

_LARGEST_BYTES = 200_000


@dataclass(frozen=True, slots=True)
class Steps:
    """The conditioning steps as a person chooses them; lengths in periods and wavelengths fit any antenna.

    Attributes
    ----------
    name, about : str
        Of the recipe.
    time_zero_by : "flank", "first break" or "peak"
        Point of the direct wave by which time zero is found.
    spike_periods : float
        Longest spike that is mended, periods of the nominal frequency; 0: none.
    dead_gap_wavelengths : float
        Longest gap that is bridged where a trace is dead, wavelengths at 0.1 m/ns; 0: none.
    lifted : "leave out" or "lower"
        What is done with traces of a lifted antenna.
    dewow_periods : float
        Window of the dewow, periods; 0: none.
    band_from : "antenna" or "data"
        Whether the corners are multiples of the nominal frequency or suggested from the spectrum.
    band : (float, float)
        Corners in multiples of the nominal frequency, for "antenna".
    tones : bool
        Whether long tones of the antenna are taken off each line.
    background_m : float
        Window of the moving background along the line, metres; 0: none.
    background_by : "median" or "mean"
        Of the pieces in that window.
    background_limit : float
        What is flat along one line alone is taken off up to this many times what lines usually differ by.
    gain : bool
        Whether the fitted decay is undone.
    gain_limit_db : float
        No sample is raised by more than this, decibels.
    deconvolution : bool
        Whether what the past of a trace foretells is taken off.
    deconvolution_gap_periods, deconvolution_length_periods : float
        Gap and length of the filter, periods.
    deconvolution_white : float
        Share of the power added to the zero lag.
    """

    name: str = "general"
    about: str = ""
    time_zero_by: Literal["flank", "first break", "peak"] = "flank"
    spike_periods: float = 0.125
    dead_gap_wavelengths: float = 0.25
    lifted: Literal["leave out", "lower"] = "leave out"
    dewow_periods: float = 4.0
    band_from: Literal["antenna", "data"] = "antenna"
    band: tuple[float, float] = (0.35, 2.0)
    tones: bool = False
    background_m: float = 5.0
    background_by: Literal["median", "mean"] = "median"
    background_limit: float = 2.0
    gain: bool = True
    gain_limit_db: float = 60.0
    deconvolution: bool = False
    deconvolution_gap_periods: float = 1.0
    deconvolution_length_periods: float = 2.0
    deconvolution_white: float = 0.01


@dataclass(frozen=True, slots=True)
class _Key:
    """One key of a recipe: the field of `Steps` it fills, and what it may hold."""

    field: str
    kind: Literal["number", "choice", "flag", "pair"]
    low: float = 0.0
    high: float = 0.0
    choices: tuple[str, ...] = ()
    fix: str = ""


RECIPE_KEYS: Mapping[str, Mapping[str, _Key]] = {
    "time_zero": {"by": _Key("time_zero_by", "choice", choices=("flank", "first break", "peak"))},
    "repair": {
        "spike_periods": _Key(
            "spike_periods", "number", 0, 0.25, fix="Write periods, such as 0.125; 0 mends no spikes."
        ),
        "dead_gap_wavelengths": _Key(
            "dead_gap_wavelengths", "number", 0, 1, fix="Write wavelengths, such as 0.25; 0 bridges no gap."
        ),
        "lifted": _Key("lifted", "choice", choices=("leave out", "lower")),
    },
    "dewow": {
        "window_periods": _Key(
            "dewow_periods", "number", 0, 100, fix="Write periods, such as 4; 0 leaves the step out."
        )
    },
    "band": {
        "corners_from": _Key("band_from", "choice", choices=("antenna", "data")),
        "corners": _Key(
            "band", "pair", 0.01, 10, fix="Write multiples of the antenna's frequency, such as [0.35, 2.0]."
        ),
    },
    "ringing": {"tones": _Key("tones", "flag", fix="Write tones = true or tones = false.")},
    "background": {
        "window_m": _Key(
            "background_m", "number", 0, 1e5, fix="Write metres, such as 5; 0 leaves the step out."
        ),
        "by": _Key("background_by", "choice", choices=("median", "mean")),
        "limit": _Key(
            "background_limit", "number", 0, 100, fix="Write a multiple of the usual spread, such as 2."
        ),
    },
    "gain": {
        "fitted": _Key("gain", "flag", fix="Write fitted = true or fitted = false."),
        "limit_db": _Key("gain_limit_db", "number", 0, 120, fix="Write decibels, such as 60."),
    },
    "deconvolution": {
        "on": _Key("deconvolution", "flag", fix="Write on = true or on = false."),
        "gap_periods": _Key("deconvolution_gap_periods", "number", 0.05, 10, fix="Write periods, such as 1."),
        "length_periods": _Key(
            "deconvolution_length_periods", "number", 0.05, 20, fix="Write periods, such as 2."
        ),
        "white": _Key("deconvolution_white", "number", 0, 1, fix="Write a share, such as 0.01."),
    },
}
"""Every key of a recipe file by table, in the order in which the steps are taken."""


def _shelf() -> Traversable | Path:
    """Folder of the recipes that come with gridmap: installed as `gridmap.configs`, or beside the sources."""
    try:
        return resources.files("gridmap.configs")
    except ModuleNotFoundError:
        return Path(__file__).parents[2] / "configs"


def recipe_names() -> tuple[str, ...]:
    """Return the names of the recipes that come with gridmap, in order of the alphabet."""
    return tuple(sorted(p.name[:-5] for p in _shelf().iterdir() if p.name.endswith(".toml")))


def named_recipe(name: str) -> Steps:
    """Return a recipe that comes with gridmap.

    Raises
    ------
    KeyError
        Where there is none of that name; see `recipe_names`.
    """
    if name not in recipe_names():
        raise KeyError(name)
    return parse_recipe((_shelf() / f"{name}.toml").read_text(encoding="utf-8"), f"{name}.toml")


def load_recipe(path: Path) -> Steps:
    """Read a recipe of the user's own.

    Raises
    ------
    SiteError
        Names the file, the key and what to write.
    """
    if path.stat().st_size > _LARGEST_BYTES:
        raise SiteError(f"{path.name}: too large for a recipe. Name a recipe file in TOML.")
    try:
        text = path.read_bytes().decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise SiteError(f"{path.name}: not UTF-8 text (byte {error.start + 1}). Save it as UTF-8.") from error
    return parse_recipe(text, path.name)


def parse_recipe(text: str, source: str) -> Steps:
    """Check the text of a recipe; keys that are not there keep the values of the general recipe.

    Parameters
    ----------
    text : str
        TOML.
    source : str
        The file as a message names it; without its suffix the recipe's name unless it gives one.

    Returns
    -------
    Steps
        Checked.

    Raises
    ------
    SiteError
        Names the file, its row, the table, the key and the fix.
    """
    try:
        document = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise SiteError(
            f"{source}: not TOML ({str(error).lower()}). Write text in quotes and pairs in square brackets."
        ) from error
    values: dict[str, Any] = {"name": source.removesuffix(".toml")}
    for table_name, content in document.items():
        row = row_of(text, table_name)
        where = f"{source}:{row}" if row else source
        if table_name in ("name", "about"):
            if not isinstance(content, str) or not content.isprintable() or len(content) > 400:
                raise SiteError(f"{where}: {table_name}: one row of text is expected. Write it in quotes.")
            values[table_name] = content.strip()
            continue
        if table_name not in RECIPE_KEYS or not isinstance(content, dict):
            raise SiteError(
                f"{where}: a recipe has no table {shown(table_name)}{suggestion(table_name, list(RECIPE_KEYS))}."
                f" The tables are {', '.join(f'[{t}]' for t in RECIPE_KEYS)}."
            )
        keys = RECIPE_KEYS[table_name]
        table = Table(source, text, table_name, 0, content)
        for key in content:
            if key not in keys:
                raise SiteError(
                    f"{table.where(key)}: there is no key {shown(key)}{suggestion(key, list(keys))}. "
                    f"The keys here are {', '.join(keys)}."
                )
            values[keys[key].field] = _value(table, key, keys[key])
    return Steps(**values)


def _value(table: Table, key: str, rule: _Key) -> object:
    if rule.kind == "choice":
        return table.choice(key, rule.choices)
    if rule.kind == "flag":
        return table.flag(key, fix=rule.fix)
    if rule.kind == "number":
        return table.number(key, low=rule.low, high=rule.high, fix=rule.fix)
    low, high = table.pair(key, fix=rule.fix)
    if not rule.low <= low < high <= rule.high:
        table.fail(key, f"two rising numbers from {rule.low:g} to {rule.high:g} are expected", rule.fix)
    return low, high


def choose_steps(table: Table, key: str, root: Path) -> Steps:
    """Return the recipe that a site file names: one of gridmap's by name, or a .toml file beside the site file.

    Raises
    ------
    SiteError
        Where there is no such recipe, or the file is wrong or lies outside the site file's folder.
    """
    from gridmap.site.paths import find_file

    known = recipe_names()
    named = table.string(key, fix=f"Write one of {', '.join(known)}, or the path of your own .toml file.")
    if named in known:
        return named_recipe(named)
    if not named.endswith(".toml"):
        table.fail(
            key,
            f"there is no recipe of that name{suggestion(named, known)}",
            f"Write one of {', '.join(known)}, or the path of your own .toml file beside the site file.",
        )
    path, wrong = find_file(table, key, root)
    if wrong:
        table.fail(key, wrong, f"Write one of {', '.join(known)}, or the path of a .toml file below {root}.")
    return load_recipe(path)


GENERAL = Steps()
"""What a site gets that names no recipe; configs/general.toml says the same, and a test compares them."""
