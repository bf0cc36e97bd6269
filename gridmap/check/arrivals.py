"""When a file that arrives in a folder may be judged: what was seen of it, and what that allows.

Pure: the caller looks at the folder and at the files, and hands over what it saw with the seconds of a clock of its own
that never runs back. Times of files are only compared with each other, since a network share keeps another clock.

A file is judged once it has rested for a while and its structure is whole. Nothing shows for certain that a copy which
stopped at the end of a trace will not go on, so a verdict holds for the bytes that were judged: when they change it
is taken back, and the file is judged anew.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

from gridmap.read.whole_line import Look

Phase = Literal["arriving", "judged", "stuck", "aside"]
"""`arriving`: not judged yet. `judged`: a verdict holds for the bytes as they are. `stuck`: rests for long and is not
whole. `aside`: rests for long and is no line file."""
Kind = Literal["changed", "again", "gone", "renamed", "copy", "stuck", "aside", "lost folder", "found folder"]
"""`changed`: judged and now written again. `again`: the same bytes were written again, the verdict holds."""

NEVER = float("inf")


@dataclass(frozen=True, slots=True)
class Stamp:
    """What the system says of a file without reading it: while none of it changes, nor should the bytes.

    Attributes
    ----------
    size : int
        Bytes.
    modified_ns, changed_ns : int
        Times of the last change of content and of the entry, nanoseconds on the clock of whoever keeps the file.
    number : int
        The file's number in its file system; 0 where there is none.
    """

    size: int
    modified_ns: int
    changed_ns: int = 0
    number: int = 0


@dataclass(frozen=True, slots=True)
class Patience:
    """How long is waited, seconds.

    Attributes
    ----------
    rest : float
        A file must not have changed for so long before it is looked at. At least 2 s: some file systems count times in
        steps of that, and a change within one step of a judged one must not stay unseen.
    doubt : float
        As `rest`, for a file that looks as if it were not filled in yet though nothing is missing.
    stuck : float
        After so long without a change a file that is not whole is told of.
    """

    rest: float = 2.0
    doubt: float = 10.0
    stuck: float = 30.0


@dataclass(frozen=True, slots=True)
class Entry:
    """What is known of one file.

    Attributes
    ----------
    stamp : Stamp
        As last seen.
    since_s, look_s : float
        When it was first seen so; when to look at it next, infinity: not until it changes.
    phase : Phase
        How far it is.
    why : str
        In words, what is missing, where it is not judged.
    digest : str
        SHA-256 of the bytes judged; empty: none yet.
    version : int
        How often other bytes under this name were judged, this time included.
    gone_s : float or None
        When it was first missed; None: it is there.
    told : bool
        Whether it was said that it is gone.
    """

    stamp: Stamp
    since_s: float
    look_s: float
    phase: Phase = "arriving"
    why: str = ""
    digest: str = ""
    version: int = 0
    gone_s: float | None = None
    told: bool = False


@dataclass(frozen=True, slots=True)
class Event:
    """Something to tell.

    Attributes
    ----------
    kind : Kind
        What it is.
    name : str
        The file, relative to the folder; empty for the folder itself.
    other : str
        The file that it was (`renamed`) or is the same as (`copy`).
    why : str
        More, in words.
    """

    kind: Kind
    name: str = ""
    other: str = ""
    why: str = ""


@dataclass(frozen=True, slots=True)
class Book:
    """All files seen so far by name, and whether the folder is there."""

    files: Mapping[str, Entry] = field(default_factory=dict)
    there: bool = True


def look_over(
    book: Book, seen: Mapping[str, Stamp] | None, now_s: float, patience: Patience
) -> tuple[Book, list[Event], list[str]]:
    """Take in what a look at the folder showed.

    Parameters
    ----------
    book : Book
        What was known.
    seen : mapping of str to Stamp, or None
        Every file by its name; None: the folder cannot be read.
    now_s : float
        Seconds.
    patience : Patience
        How long is waited.

    Returns
    -------
    book : Book
        What is known now.
    events : list of Event
        What to tell.
    due : list of str
        Files that have rested for long enough to be looked at, those that came first in front.
    """
    if seen is None:
        return replace(book, there=False), [Event("lost folder")] if book.there else [], []
    events = [] if book.there else [Event("found folder")]
    files = dict(book.files)
    for name, stamp in seen.items():
        old = files.get(name)
        if old is None:
            files[name] = Entry(stamp, now_s, now_s + patience.rest)
            continue
        if not book.there and old.phase == "arriving":  # what happened meanwhile is not known
            old = replace(old, since_s=now_s, look_s=now_s + patience.rest)
        if old.stamp != stamp:
            if old.phase == "judged":
                events.append(Event("changed", name))
            old = replace(
                old, stamp=stamp, since_s=now_s, look_s=now_s + patience.rest, phase="arriving", why=""
            )
        elif old.told and old.phase == "judged":
            events.append(Event("again", name))
        files[name] = replace(old, gone_s=None, told=False)
    for name in files.keys() - seen.keys():
        old = files[name]
        if old.gone_s is None:
            files[name] = replace(old, gone_s=now_s)
    due = [n for n in seen if files[n].look_s <= now_s]
    due.sort(key=lambda n: (files[n].since_s, files[n].stamp.modified_ns, n))
    settled, gone = _gone(files, now_s, patience)
    return Book(settled, True), events + gone, due


def _gone(files: dict[str, Entry], now_s: float, patience: Patience) -> tuple[dict[str, Entry], list[Event]]:
    """Tell of files that stay away for longer than a rename or a replacement takes; forget what was never judged."""
    kept, events = {}, []
    for name, entry in files.items():
        away = entry.gone_s is not None and now_s - entry.gone_s >= 2 * patience.rest
        if away and not entry.digest:
            continue
        if away and not entry.told:
            events.append(Event("gone", name))
            entry = replace(entry, told=True)
        kept[name] = entry
    return kept, events


def take_look(
    book: Book, name: str, look: Look, now_s: float, patience: Patience
) -> tuple[Book, list[Event], bool]:
    """Take in what a look at one file's structure found; the file did not change while it was looked at.

    Returns
    -------
    book : Book
        What is known now.
    events : list of Event
        What to tell.
    judge : bool
        Whether the traces are to be judged now; then `take_verdict` follows.
    """
    entry = book.files[name]
    rested = now_s - entry.since_s
    if look.state in ("part", "unknown"):
        return _not_whole(book, name, look, now_s, patience)
    if look.digest == entry.digest:
        events = [Event("again", name)]
        return _with(book, name, replace(entry, phase="judged", why="", look_s=NEVER)), events, False
    if look.state == "unsure" and rested < patience.doubt:
        return (
            _with(book, name, replace(entry, why=look.why, look_s=entry.since_s + patience.doubt)),
            [],
            False,
        )
    twin = _twin(book, name, look.digest)
    if twin is None:
        return book, [], True
    files = dict(book.files)
    other = files[twin]
    moved = other.gone_s is not None
    if moved:
        del files[twin]
    files[name] = replace(
        entry, phase="judged", why="", digest=look.digest, look_s=NEVER,
        version=max(entry.version + 1, other.version if moved else 1),
    )  # fmt: skip
    return replace(book, files=files), [Event("renamed" if moved else "copy", name, twin)], False


def take_verdict(book: Book, name: str, digest: str) -> Book:
    """Take in that the traces were judged, from bytes with this digest that did not change meanwhile."""
    entry = book.files[name]
    version = entry.version + 1
    return _with(
        book, name, replace(entry, phase="judged", why="", digest=digest, version=version, look_s=NEVER)
    )


def take_change(book: Book, name: str, now_s: float, patience: Patience) -> Book:
    """Take in that a file changed, or could not be read, while it was looked at or judged: it must rest again."""
    entry = book.files[name]
    return _with(book, name, replace(entry, since_s=now_s, look_s=now_s + patience.rest))


def waiting(book: Book) -> Sequence[tuple[str, Entry]]:
    """Give the files that are there and not judged, but for those set aside."""
    return [(n, e) for n, e in book.files.items() if e.gone_s is None and e.phase in ("arriving", "stuck")]


def _not_whole(
    book: Book, name: str, look: Look, now_s: float, patience: Patience
) -> tuple[Book, list[Event], bool]:
    """Wait longer and longer; tell once of a file that rests and is not whole, or is no line file."""
    entry = book.files[name]
    rested = now_s - entry.since_s
    if rested < patience.stuck:
        soon = min(now_s + max(patience.rest, 0.5 * rested), entry.since_s + patience.stuck)
        return _with(book, name, replace(entry, why=look.why, look_s=soon)), [], False
    phase: Literal["stuck", "aside"] = "stuck" if look.state == "part" else "aside"
    events = [Event(phase, name, why=look.why)] if entry.phase != phase else []
    entry = replace(entry, phase=phase, why=look.why, look_s=now_s + patience.stuck)
    return _with(book, name, entry), events, False


def _twin(book: Book, name: str, digest: str) -> str | None:
    """Find another file with these bytes, one that is gone in front of one that is there."""
    same = [n for n, e in book.files.items() if n != name and e.digest == digest and e.phase == "judged"]
    return min(same, key=lambda n: (book.files[n].gone_s is None, n), default=None)


def _with(book: Book, name: str, entry: Entry) -> Book:
    return replace(book, files={**book.files, name: entry})
