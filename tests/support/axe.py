"""axe-core (Deque, MPL-2.0; comes with the package axe-playwright-python) run in a page that Playwright holds."""

from functools import cache
from pathlib import Path


@cache
def _source():
    import axe_playwright_python

    return (Path(axe_playwright_python.__file__).parent / "axe.min.js").read_text(encoding="utf-8")


def axe_faults(page, *, contrast_7=False):
    """Rules of WCAG 2.0 to 2.2, A and AA, that a page breaks, one string each; with `contrast_7` the 7:1 of AAA too."""
    page.evaluate(_source())
    rules = {"color-contrast-enhanced": {"enabled": True}} if contrast_7 else {}
    tags = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
    found = page.evaluate(
        "([tags, rules]) => axe.run({runOnly: {type: 'tag', values: tags}, rules})", [tags, rules]
    )
    return [
        f"{rule['id']}: {node['target']} {node.get('failureSummary', '')}"
        for rule in found["violations"]
        for node in rule["nodes"]
    ]
