"""Data files named by a site file: found below its folder, never outside it."""

from __future__ import annotations

import difflib
from pathlib import Path, PurePosixPath, PureWindowsPath

from gridmap.site.keys import Table
from gridmap.site.rules import natural_key

_INSIDE = (
    "Name files below the site file's folder (or below the folder given as data), such as lines/L001.sgy."
)


def find_file(table: Table, key: str, root: Path) -> tuple[Path, str | None]:
    """Return the file that a key names, and what is wrong with it where it cannot be used.

    Parameters
    ----------
    table : Table
        The table with the key.
    key : str
        Its key; the value is a path relative to `root`.
    root : Path
        Folder of the data files, absolute.

    Returns
    -------
    (Path, str or None)
        The absolute path; None where the file is there, else "no such file" and what is near.

    Raises
    ------
    SiteError
        Where the path is not plain or leads out of the folder.
    """
    text = _plain_path(table, key)
    path = root / text
    if path.is_file():
        _check_inside(table, key, path, root)
        return path, None
    if path.is_dir():
        return path, f"{text} is a folder"
    return path, f"there is no file {text} in {root}{_near(path, root)}"


def find_pattern(table: Table, key: str, root: Path) -> list[Path]:
    """Return the files that a pattern matches, absolute, in natural order (L2 before L10).

    Files whose names begin with a point are passed over: systems hide their own beside the data.

    Raises
    ------
    SiteError
        Where the pattern is not plain, leads out of the folder, or matches no file.
    """
    text = _plain_path(table, key)
    found = [p for p in root.glob(text) if p.is_file() and not p.name.startswith(".")]
    if not found:
        folder = root / PurePosixPath(text).parent
        held = (
            sorted((p.name for p in folder.iterdir() if p.is_file()), key=natural_key)
            if folder.is_dir()
            else []
        )
        holds = f"{folder} holds {len(held)} files" + (f", such as {held[0]}" if held else "")
        if not folder.is_dir():
            holds = f"there is no folder {folder}"
        table.fail(
            key, f"no file matches; {holds}", "Correct the pattern; * stands for any run of characters."
        )
    for path in found:
        _check_inside(table, key, path, root)
    return sorted(found, key=lambda p: natural_key(p.relative_to(root).as_posix()))


def _plain_path(table: Table, key: str) -> str:
    text = table.string(key, fix=_INSIDE)
    if "\\" in text:
        table.fail(key, "the path has a backslash", "Write / between folders, on every system.")
    if text.startswith(("/", "~")) or PureWindowsPath(text).drive:
        table.fail(key, "the path does not start in the site's folder", _INSIDE)
    if ".." in PurePosixPath(text).parts:
        table.fail(key, "the path leads out of the site's folder", _INSIDE)
    if "**" in text:
        table.fail(key, "** is not known here", "Name the folder, and use one * for the names in it.")
    if PurePosixPath(text) == PurePosixPath("."):
        table.fail(key, "the path names no file", _INSIDE)
    return text


def _check_inside(table: Table, key: str, path: Path, root: Path) -> None:
    if not path.resolve().is_relative_to(root.resolve()):
        table.fail(
            key, f"{path.name} is a link that leads out of the site's folder", "Copy the file in its place."
        )


def _near(path: Path, root: Path) -> str:
    if not path.parent.is_dir():
        return ""
    names = [p.name for p in path.parent.iterdir() if p.is_file() and not p.name.startswith(".")]
    lower = {name.lower(): name for name in names}
    near = difflib.get_close_matches(path.name.lower(), lower, n=1, cutoff=0.6)
    return f" (near it: {(path.parent / lower[near[0]]).relative_to(root).as_posix()})" if near else ""
