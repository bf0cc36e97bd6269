"""Pieces of a site file as text, for those that write one."""

from __future__ import annotations


def row(key: str, value: str, note: str) -> str:
    """Write a key, its value as TOML, and a note in a column of its own."""
    return f"{f'{key} = {value}':<28}# {note}"


def flat(text: str) -> str:
    """Keep text to one printable row of 160 characters."""
    plain = "".join(c if c.isprintable() else " " for c in text)
    return " ".join(plain.split())[:160]


def quoted(text: str) -> str:
    """Write text as a TOML string."""
    plain = text.replace("\\", "\\\\").replace('"', '\\"')
    return '"' + "".join(c if c.isprintable() else f"\\U{ord(c):08X}" for c in plain) + '"'
