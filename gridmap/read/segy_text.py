"""The textual header: EBCDIC or ASCII cards to plain lines that are safe to print."""

from __future__ import annotations

import unicodedata

CARD = 80
END_STANZA = "((seg: endtext))"
"""The stanza that ends extended textual headers (SEG-Y revision 1, section 6), in lower case."""


def decode_text(raw: bytes) -> str:
    """Decode a textual header as EBCDIC (code page 037) or ASCII: whichever gives more letters and blanks."""
    ascii_text = raw.decode("latin-1")
    ebcdic_text = raw.decode("cp037")

    def plain(text: str) -> int:
        return sum(c == " " or (c.isascii() and c.isalnum()) for c in text)

    return ebcdic_text if plain(ebcdic_text) > plain(ascii_text) else ascii_text


def text_lines(raw: bytes, most: int = 40) -> tuple[str, ...]:
    """Give the cards that hold text, without number, at most `most`; control characters become blanks."""
    text = decode_text(raw)
    lines = []
    for start in range(0, len(text), CARD):
        card = text[start : start + CARD]
        if card[:1] == "C" and card[1:3].strip().isdigit():
            card = card[3:]
        clean = "".join(" " if unicodedata.category(c)[0] in "CZ" else c for c in card)
        clean = " ".join(clean.split())
        if clean:
            lines.append(clean)
    return tuple(lines[:most])
