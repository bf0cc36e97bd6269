"""Sphinx set-up: Markdown pages and the reference from docstrings; needs no network."""

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
autodoc_typehints = "none"
autodoc_default_options = {"members": True, "undoc-members": False}
napoleon_numpy_docstring = True
napoleon_use_rtype = False
myst_heading_anchors = 3
suppress_warnings = ["myst.xref_missing", "ref.python", "autosummary.import_cycle"]
