"""The words of a report: ours, with what a user's template says laid over them."""

from __future__ import annotations

import difflib
import re
import tomllib
from collections.abc import Mapping
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any

from gridmap.errors import InputError

ASSETS = Path(__file__).parent / "assets" / "report"
_PLACE = re.compile(r"\{([a-z0-9_]+)\}")
_UNSEEN = re.compile(
    "[\x00-\x1f\x7f-\x9f\u061c\u200b\u200e\u200f\u202a-\u202e\u2028\u2029\u2060-\u206f\ufeff\ufff9-\ufffb]"
)


class Words:
    """Sentences by key, such as "summary.opening"; places in braces are filled.

    Parameters
    ----------
    tables : mapping
        From a words file.
    source : str
        The file as a message names it.
    """

    def __init__(self, tables: Mapping[str, Any], source: str) -> None:
        self._tables, self._source = tables, source

    def __call__(self, key: str, **values: object) -> str:
        """Return the sentence with its places filled.

        Raises
        ------
        InputError
            If the sentence has a place that nothing fills.
        """
        table, name = key.split(".", 1)
        text = str(self._tables[table][name])

        def fill(match: re.Match[str]) -> str:
            if match.group(1) not in values:
                known = ", ".join("{" + k + "}" for k in values) or "none"
                raise InputError(
                    f"{self._source}: [{table}] {name}: nothing fills {match.group(0)}. The places here are {known}."
                )
            return str(values[match.group(1)])

        return _PLACE.sub(fill, text).strip()

    def count(self, key: str, n: int, **values: object) -> str:
        """Return the sentence for a count: key_none, key_one or key_many."""
        kind = "none" if n == 0 else "one" if n == 1 else "many"
        return self(f"{key}_{kind}", n=n, **values)

    def items(self, key: str) -> list[str]:
        """Return a list of words as it stands."""
        table, name = key.split(".", 1)
        return [str(item) for item in self._tables[table][name]]

    def own(self) -> list[Mapping[str, str]]:
        """Sections that the user wrote."""
        return list(self._tables.get("own", []))


@cache
def default_words() -> Mapping[str, Any]:
    """Our words file."""
    return tomllib.loads((ASSETS / "words.toml").read_text(encoding="utf-8"))


def load_words(template: Path | None) -> Words:
    """Read the words of a template over ours.

    Parameters
    ----------
    template : Path or None
        Folder; its words.toml may hold as few keys as it likes.

    Raises
    ------
    InputError
        If the file cannot be read, or has a key that no report has.
    """
    ours = {name: dict(table) for name, table in default_words().items()}
    path = None if template is None else template / "words.toml"
    if path is None or not path.is_file():
        return Words(ours, "words.toml")
    try:
        theirs = tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except (OSError, ValueError) as problem:
        raise InputError(f"{path}: cannot be read as TOML ({problem}).") from problem
    merged: dict[str, Any] = dict(ours)
    for name, table in theirs.items():
        if name == "own":
            merged["own"] = _own(path, table)
            continue
        if name not in ours or not isinstance(table, dict):
            raise InputError(f"{path}: there is no table [{clean(name)}]{_near(name, ours)}.")
        for key, value in table.items():
            if key not in ours[name]:
                raise InputError(f"{path}: [{name}] has no key {clean(key)}{_near(key, ours[name])}.")
            if type(value) is not type(ours[name][key]):
                wanted = "a list" if isinstance(ours[name][key], list) else "text in quotes"
                raise InputError(f"{path}: [{name}] {key}: {wanted} is expected.")
            merged[name][key] = value
    return Words(merged, str(path))


def clean(text: object) -> str:
    """Return text on one row without control characters and marks that turn the reading direction."""
    return " ".join(
        _UNSEEN.sub("\N{REPLACEMENT CHARACTER}", str(text).replace("\n", " ").replace("\t", " ")).split()
    )


def checked_date(text: str, where: str) -> str:
    """Return a day as it was written, year-month-day.

    Raises
    ------
    InputError
        If it is no such day.
    """
    try:
        return date.fromisoformat(text).isoformat()
    except ValueError:
        raise InputError(
            f"{where}: {clean(text)!r} is no day. Write it as year-month-day, such as 2026-05-17."
        ) from None


def _own(path: Path, table: object) -> list[dict[str, str]]:
    if not isinstance(table, list) or not all(
        isinstance(t, dict) and {"key", "heading", "text"} <= set(t) for t in table
    ):
        raise InputError(f"{path}: each [[own]] needs key, heading and text.")
    return [{k: str(v) for k, v in row.items()} for row in table]


def _near(word: str, known: Mapping[str, Any]) -> str:
    close = difflib.get_close_matches(word, list(known), n=1)
    return f" (did you mean {close[0]}?)" if close else ""
