"""The page `index.html`: one file that opens from a disk, offline, and asks nothing from anywhere."""

from __future__ import annotations

import base64
import hashlib
import html
import json
import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from gridmap.deliver.caution import CAUTION, CAUTION_SHORT
from gridmap.deliver.page_data import PageData
from gridmap.deliver.page_json import page_json
from gridmap.deliver.page_lines import pack_lines
from gridmap.deliver.page_slices import pack_stacks
from gridmap.errors import OurFaultError, ReadError
from gridmap.files import write_text

MOST_BYTES = 24_000_000
"""Upper bound on the packed data of a page; with its words and scripts it stays under 25 MB."""
_ASSETS = Path(__file__).parent / "assets"
_BLOCK = '<script type="{kind}" id="{name}">\n{text}\n</script>'
_BLOCKS = re.compile(
    r'<script type="(?:application/json|text/plain)" id="([a-z0-9-]+)">\n(.*?)\n</script>', re.S
)
_IMPORT = re.compile(r'^import (?:\{([^}]*)\} from )?"\./([a-z0-9]+\.js)";\n', re.M)
_EXPORT = re.compile(r"^export (?:async )?(?:const|let|function|class) ([A-Za-z0-9_$]+)", re.M)


def write_index(path: Path, data: PageData) -> None:
    """Write the page, whole or not at all.

    Parameters
    ----------
    path : Path
        Where `index.html` is to stand: in the output folder, since links to files are relative.
    data : PageData
        What it shows.

    Raises
    ------
    OurFaultError
        If there is no stack or one does not have the raster's shape.
    """
    write_text(path, page_text(data))


def page_text(data: PageData) -> str:
    """Return the page as text; see `write_index`."""
    return render(page_blocks(data))


def page_blocks(data: PageData) -> dict[str, str]:
    """Return the page's data as named blocks of text: `data` (JSON), `slices-0` and on, `radargrams`.

    Raises
    ------
    OurFaultError
        If there is no stack or one does not have the raster's shape.
    """
    for item in data.stacks:
        if item.stack.values.shape[1:] != data.raster.shape:
            raise OurFaultError(
                f"page: {item.label} have shape {item.stack.values.shape[1:]}, the raster {data.raster.shape}"
            )
    if not any(len(item.stack.windows) for item in data.stacks):
        raise OurFaultError("page: there is no slice to show")
    packed, factor = pack_stacks([(item.stack.values, item.colour_range) for item in data.stacks])
    left = MOST_BYTES - sum(len(text) for stack in packed for text in stack.lines)
    lines = None if data.radargrams is None else pack_lines(data.radargrams, left)
    blocks = {"data": json_in_html(page_json(data, packed, factor, lines))}
    for k, stack in enumerate(packed):
        blocks[f"slices-{k}"] = "\n".join(stack.lines)
    if lines is not None:
        blocks["radargrams"] = "\n".join(line.text for line in lines.lines)
    return blocks


def blocks_of(page: str) -> dict[str, str]:
    """Take the blocks of data out of a page that `render` made.

    Raises
    ------
    ReadError
        If the text is no such page.
    """
    found = dict(_BLOCKS.findall(page))
    if "data" not in found or "slices-0" not in found:
        raise ReadError("index.html: holds no slices of gridmap's; map the survey again.")
    return found


def render(blocks: Mapping[str, str], reach: str = "'none'") -> str:
    """Make the page of its blocks.

    Parameters
    ----------
    blocks : mapping
        As of `page_blocks`, and perhaps `live` for a page that a server gives.
    reach : str
        What the page may fetch from, in the words of its content security policy.

    Returns
    -------
    str
        HTML: scripts and styles inside, allowed by their hashes.
    """
    style = (_ASSETS / "page.css").read_text(encoding="utf-8")
    script = f'"use strict";\n(() => {{\n{joined_modules("page.js")}}})();\n'
    site = str(json.loads(blocks["data"])["site"])
    parts = {
        "TITLE": html.escape(site),
        "CAUTION": html.escape(CAUTION),
        "CAUTION_SHORT": html.escape(CAUTION_SHORT),
        "POLICY": html.escape(
            f"default-src 'none'; script-src '{hash_source(script)}'; style-src '{hash_source(style)}'; "
            f"img-src data: blob:; connect-src {reach}; base-uri 'none'; form-action 'none'"
        ),
        "STYLE": style,
        "SCRIPT": script,
        "BLOCKS": "\n".join(
            _BLOCK.format(
                kind="application/json" if name in ("data", "live") else "text/plain", name=name, text=text
            )
            for name, text in blocks.items()
        ),
    }
    template = (_ASSETS / "page.html").read_text(encoding="utf-8")
    return re.sub(r"\{\{([A-Z_]+)\}\}", lambda found: parts[found.group(1)], template)


def joined_modules(entry: str) -> str:
    """Join an ES module and all that it imports into one script, each once and after what it imports.

    Raises
    ------
    OurFaultError
        If modules import each other in a circle.

    Notes
    -----
    A page opened from a disk may not import modules (its origin is opaque), so they stand in it one after another, each
    in a function of its own that returns what it exports.
    """
    done: dict[str, str] = {}

    def take(name: str, above: tuple[str, ...]) -> None:
        if name in above:
            raise OurFaultError(f"page: modules import in a circle: {', '.join((*above, name))}")
        if name in done:
            return
        text = (_ASSETS / name).read_text(encoding="utf-8")
        for _, below in _IMPORT.findall(text):
            take(below, (*above, name))
        exported = ", ".join(_EXPORT.findall(text))
        text = _IMPORT.sub(
            lambda found: f"const {{{found[1]}}} = {_scope(found[2])};\n" if found[1] else "", text
        )
        text = _EXPORT.sub(lambda found: found[0].removeprefix("export "), text)
        done[name] = f"const {_scope(name)} = (() => {{\n{text}return {{ {exported} }};\n}})();\n"

    take(entry, ())
    return "".join(done.values())


def _scope(name: str) -> str:
    return f"module_{name.removesuffix('.js')}"


def json_in_html(value: Any) -> str:
    """JSON that cannot end its script element, whatever names it holds."""
    text = json.dumps(value, allow_nan=False, ensure_ascii=True, separators=(",", ":"))
    return text.replace("&", "\\u0026").replace("<", "\\u003c").replace(">", "\\u003e")


def hash_source(text: str) -> str:
    """Hash-source of an inline element (W3C Content Security Policy level 2)."""
    return "sha256-" + base64.b64encode(hashlib.sha256(text.encode("utf-8")).digest()).decode("ascii")
