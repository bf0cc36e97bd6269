"""Sphinx set-up: Markdown pages and the reference from docstrings; needs no network."""

import re
import shutil
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
sys.path.insert(0, str(Path(__file__).parent.parent))

from gridmap._version import VERSION

project = "gridmap"
author = "the gridmap developers"
copyright = "2026, the gridmap developers"
release = version = VERSION
extensions = ["myst_parser", "sphinx.ext.autodoc", "sphinx.ext.autosummary", "sphinx.ext.napoleon"]
exclude_patterns = ["_build"]
templates_path = ["_templates"]
html_theme = "alabaster"
html_theme_options = {"description": "Radar lines to maps", "fixed_sidebar": True}
autosummary_generate = True
# Made anew each time: pages of modules that are gone would stay.
shutil.rmtree(Path(__file__).parent / "api", ignore_errors=True)
autodoc_typehints = "none"
autodoc_default_options = {"members": True, "undoc-members": False}
napoleon_numpy_docstring = True
napoleon_use_rtype = False
napoleon_use_ivar = True
myst_heading_anchors = 3
suppress_warnings = ["myst.xref_missing", "ref.python", "autosummary.import_cycle"]


def plain_marks(app, what, name, obj, options, rows):
    """Let docstrings hold | and * as plain characters: mark them, except in code and in indented blocks after ::."""
    block = None
    for k, row in enumerate(rows):
        indent = len(row) - len(row.lstrip())
        if block is not None and row.strip() and indent <= block:
            block = None
        if block is None:
            parts = row.split("`")
            parts[::2] = [re.sub(r"(?<!\\)([*|])", r"\\\1", part) for part in parts[::2]]
            rows[k] = "`".join(parts)
            if row.rstrip().endswith("::"):
                block = indent


def setup(app):
    app.connect("autodoc-process-docstring", plain_marks, priority=400)
