"""Watch the folder that a recorder exports to, and judge each line as soon as its file is whole.

`check.arrivals` decides what may be judged and what is told; here the folder and the files are looked at.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from gridmap.check.arrivals import (
    Book,
    Event,
    Patience,
    look_over,
    take_change,
    take_look,
    take_verdict,
    waiting,
)
from gridmap.check.finding import Finding, Severity, worst
from gridmap.errors import ReadError
from gridmap.pipeline.folder_look import device_of, files_in, stamp_of
from gridmap.read.sniff import NO_LAYOUTS, choose_reader
from gridmap.read.whole_line import look_at_line
from gridmap.site.rules import natural_key

ONCE = Patience(rest=2.0, doubt=4.0, stuck=6.0)
"""Patience with files that are there already."""
AGAIN = "Export the line again, or walk it again."


@dataclass(frozen=True, slots=True)
class Judged:
    """What is said of one line.

    Attributes
    ----------
    facts : str
        What it is, such as "412 traces, 20.6 m, 60 ns"; empty where it cannot be read.
    findings : tuple of Finding
        What was found, worst first.
    placed : bool
        Whether distances along it are known.
    """

    facts: str = ""
    findings: tuple[Finding, ...] = ()
    placed: bool = True

    @property
    def severity(self) -> Severity | None:
        """The worst of the findings; None: the line is good."""
        return worst(self.findings)


@dataclass(frozen=True, slots=True)
class Row:
    """One file in the summary.

    Attributes
    ----------
    name : str
        The file, relative to the folder.
    judged : Judged or None
        The verdict on its bytes as they are; None: there is none.
    note : str
        What else is to be said, such as that it is a copy or not whole.
    """

    name: str
    judged: Judged | None
    note: str = ""


def unreadable(path: Path, problem: ReadError, *, must_be_line: bool) -> Judged:
    """Judge a whole file that is no line as it stands; a text or an array may be something else, such as a track."""
    words, nan = str(problem).removeprefix(f"{path.name}: "), float("nan")
    severity: Severity = "walk again" if must_be_line else "attention"
    do = (
        AGAIN if must_be_line else "If it is a line, state its layout in the site file or export it as SEG-Y."
    )
    return Judged("", (Finding(path.stem, "unreadable", severity, nan, nan, None, None, (), words, do),))


Judge = Callable[[Path, str], Judged]
"""Judges the file at a path, of which the second is the name below the folder; raises ReadError."""
Tell = Callable[[str, Judged | Event], None]
"""Called with the file's name and its verdict, or what happened to it."""


class Watcher:
    """One watch over one folder.

    Parameters
    ----------
    folder : Path
        Where files arrive.
    judge : callable
        Judges one line.
    tell : callable
        Told of every verdict and event as it happens.
    patience : Patience
        How long is waited.
    clock : callable
        Seconds that never run back.

    Raises
    ------
    ReadError
        If the folder is not there.
    """

    def __init__(
        self,
        folder: Path,
        judge: Judge,
        tell: Tell,
        *,
        patience: Patience,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self.folder, self.judge, self.tell = folder, judge, tell
        self.patience, self.clock = patience, clock
        self.book = Book()
        self.verdicts: dict[str, Judged] = {}
        """By the digest of the bytes judged, and the name."""
        self.copies: dict[str, str] = {}
        self.device = device_of(folder)
        if self.device is None:
            raise ReadError(f"{folder}: no such folder. Name the folder that the recorder exports to.")

    def poll(self) -> None:
        """Look once at the folder, and at each file that is due."""
        device = device_of(self.folder)
        if not self.book.there and device is not None and files_in(self.folder):
            self.device = device  # the stick is back, perhaps in another socket
        seen = files_in(self.folder, self.device)
        self.book, events, due = look_over(self.book, seen, self.clock(), self.patience)
        self._say(events)
        for name in due:
            self._look(name)

    def _look(self, name: str) -> None:
        path, stamp = self.folder / name, self.book.files[name].stamp
        look = look_at_line(path, NO_LAYOUTS)
        if stamp_of(path) != stamp:
            self.book = take_change(self.book, name, self.clock(), self.patience)
            return
        self.book, events, judge = take_look(self.book, name, look, self.clock(), self.patience)
        self._say(events)
        if not judge:
            return
        judged = self._judged(path, name)
        if stamp_of(path) != stamp:
            self.book = take_change(self.book, name, self.clock(), self.patience)
            return
        self.book = take_verdict(self.book, name, look.digest)
        self.verdicts[name] = judged
        self.copies.pop(name, None)
        self.tell(name, judged)

    def _judged(self, path: Path, name: str) -> Judged:
        try:
            return self.judge(path, name)
        except ReadError as problem:
            return unreadable(path, problem, must_be_line=choose_reader(path).layout is None)

    def _say(self, events: list[Event]) -> None:
        for event in events:
            if event.kind == "renamed":
                old = self.verdicts.pop(event.other, None)
                if old is not None:
                    self.verdicts[event.name] = old
                if event.other in self.copies:
                    self.copies[event.name] = self.copies.pop(event.other)
            elif event.kind == "copy":
                self.verdicts[event.name] = self.verdicts[event.other]
                self.copies[event.name] = event.other
            self.tell(event.name, event)

    def _why_not(self, name: str) -> str:
        """Say why a file has no verdict that has not been looked at yet."""
        look = look_at_line(self.folder / name, NO_LAYOUTS)
        return look.why or "it came just before the end and had not rested"

    @property
    def resting(self) -> bool:
        """Whether every file that is there has a verdict, or is told of as not whole or no line file."""
        return self.book.there and not any(entry.phase == "arriving" for _, entry in waiting(self.book))

    def rows(self) -> list[Row]:
        """Give the summary: every line and every file that was not judged, in natural order.

        A file of unknown format counts as a line that is not whole where a line has the same suffix.
        """
        rows = []
        lines = {Path(n).suffix.lower() for n, e in self.book.files.items() if e.phase == "judged"}
        for name, entry in self.book.files.items():
            if entry.phase == "judged":
                notes = [f"same bytes as {self.copies[name]}"] if name in self.copies else []
                notes += ["the file is gone now"] if entry.gone_s is not None and self.book.there else []
                notes += [f"version {entry.version} under this name"] if entry.version > 1 else []
                rows.append(Row(name, self.verdicts.get(name), "; ".join(notes)))
            elif entry.gone_s is None and (entry.phase != "aside" or Path(name).suffix.lower() in lines):
                rows.append(Row(name, None, entry.why or self._why_not(name)))
        return sorted(rows, key=lambda r: natural_key(r.name))


def watch_folder(
    folder: Path, judge: Judge, tell: Tell, *, once: bool = False, every_s: float = 1.0
) -> list[Row]:
    """Watch a folder until it is interrupted, or until all that is there has come to rest.

    Parameters
    ----------
    folder : Path
        Where files arrive.
    judge : callable
        Judges one line.
    tell : callable
        Told of every verdict and event as it happens.
    once : bool
        Stop when every file that is there has a verdict, or is told of.
    every_s : float
        Seconds from one look to the next.

    Returns
    -------
    list of Row
        The summary.

    Raises
    ------
    gridmap.errors.InputError
        If the folder is not there.
    """
    watcher = Watcher(folder, judge, tell, patience=ONCE if once else Patience())
    try:
        while True:
            watcher.poll()
            if once and watcher.resting:
                break
            time.sleep(every_s)
    except KeyboardInterrupt:
        pass
    return watcher.rows()
