"""The report: tagged and archivable PDF, a page, tables; it tells what stands in the folder and nothing else."""

import csv
import io
import json
import re
import shutil
from html.parser import HTMLParser

import geopandas as gpd
import numpy as np
import pyogrio
import pypdf
import pytest
from PIL import Image
from small_survey import PIPE_DEPTH, PIPE_Y, SITE, write_small_survey

import gridmap
from gridmap.deliver.caution import CAUTION
from gridmap.deliver.gpkg import write_features
from gridmap.deliver.layers import Layer
from gridmap.deliver.report_profiles import marks_on
from gridmap.deliver.report_told import Told
from gridmap.deliver.report_words import load_words
from gridmap.deliver.styles import Style
from gridmap.errors import InputError
from gridmap.read.made_map import read_made_map
from gridmap.site.load import load_site

HOSTILE = (
    "<script>alert(1)</script> #import \"/etc/passwd\" $x$ *bold* _under_ @ref `raw` [link] \\ \u202egnp.exe "
    "\u6f22\u5b57 \u0645\u0631\u062d\u0628\u0627 ../../../etc " + "very long " * 30
)  # fmt: skip


@pytest.fixture
def folder(mapped, tmp_path):
    """A copy of the small map that a test may spoil."""
    out = tmp_path / "out"
    shutil.copytree(
        mapped[0].out, out, ignore=shutil.ignore_patterns("pictures", "volume.zarr", "scene*", "slices")
    )
    return out


def text_of(path):
    return " ".join(" ".join(page.extract_text() for page in pypdf.PdfReader(path).pages).split())


def elements(node, seen=None):
    """Every element of the structure tree."""
    seen = set() if seen is None else seen
    node = node.get_object()
    if isinstance(node, list):
        for child in node:
            yield from elements(child, seen)
    elif isinstance(node, dict) and id(node) not in seen:
        seen.add(id(node))
        if "/S" in node:
            yield node
        if "/K" in node:
            yield from elements(node["/K"], seen)


def rewrite(path, change):
    """Write features.gpkg again with its tables changed, as a GIS would."""
    layers = []
    for name, kind in pyogrio.list_layers(path):
        if kind is not None:
            frame = pyogrio.read_dataframe(path, layer=name)
            layers.append(Layer(name, change(name, frame), kind, "", Style("#000000", 1.0)))
    crs = layers[0].frame.crs.to_wkt()
    write_features(path, layers, crs)


def test_pdf_is_tagged_archivable_and_has_its_fonts_inside(folder):
    """A report for an archive says PDF/A-2a and PDF/UA-1, has tags, and every font is inside."""
    pdf, *_ = gridmap.report(folder, date="2026-05-17")
    reader = pypdf.PdfReader(pdf)
    root = reader.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"]
    assert root["/Lang"]
    # ISO 19005-2, 6.6.4 and ISO 14289-1, 5: identification schemas in the XMP packet [memory].
    xmp = root["/Metadata"].get_object().get_data().decode("utf-8")
    assert re.search(r"pdfaid:part>\s*2\s*<", xmp)
    assert re.search(r"pdfaid:conformance>\s*A\s*<", xmp)
    assert re.search(r"pdfuaid:part>\s*1\s*<", xmp)
    fonts = [f.get_object() for page in reader.pages for f in page["/Resources"].get("/Font", {}).values()]
    assert fonts
    for font in fonts:
        (below,) = font["/DescendantFonts"]
        described = below.get_object()["/FontDescriptor"].get_object()
        assert {"/FontFile2", "/FontFile3"} & set(described), font["/BaseFont"]
    tags = list(elements(root["/StructTreeRoot"]["/K"]))
    kinds = {str(t["/S"]) for t in tags}
    assert {"/H1", "/P", "/Table", "/TH", "/TD", "/Figure", "/L"} <= kinds
    figures = [t for t in tags if t["/S"] == "/Figure"]
    assert figures
    assert all(len(str(t.get("/Alt", ""))) > 20 for t in figures)


def test_words_of_the_pdf_are_those_of_the_folder(folder):
    """Names, depths, deviations, fingerprints and the caution can be read out of the PDF as text."""
    pdf, *_ = gridmap.report(folder, date="2026-05-17")
    words = text_of(pdf)
    record = json.loads((folder / "run.json").read_text(encoding="utf-8"))
    pipe = pyogrio.read_dataframe(folder / "features.gpkg", layer="linear").iloc[0]
    for part in (
        "Bleaching green, Unterau", f"{pipe.depth_top_m:.2f}", f"{pipe.depth_sd_m:.2f}", pipe.id, CAUTION[:60],
        record["inputs"][0]["sha256"][:20], record["version"], "2026-05-17",
    ):  # fmt: skip
        assert part in words, part


def test_same_map_gives_the_same_bytes(folder):
    """Two runs differ in nothing, since an archive compares fingerprints."""
    first = [p.read_bytes() for p in gridmap.report(folder)]
    assert [p.read_bytes() for p in gridmap.report(folder)] == first


def test_nothing_found_is_said_and_is_no_proof(folder):
    """Where no feature stands the report says so, and that this proves nothing."""
    rewrite(
        folder / "features.gpkg",
        lambda name, f: f.iloc[:0] if name in ("linear", "outlines", "points") else f,
    )
    words = text_of(gridmap.report(folder)[0])
    assert "No feature was found that is sure enough to list" in words
    assert "no proof that the ground is empty" in words
    assert "no proof of empty ground" in words
    assert "Table 1 Features" not in words
    assert not (folder / "report" / "quality_levels.csv").exists()


def test_what_a_person_said_is_told(folder):
    """A rejected line goes, a class, a stated depth and a level as set by a person stand."""

    def change(name, frame):
        if name == "linear":
            frame.loc[0, ["status", "class", "depth_said_m", "quality_level", "by"]] = (
                "accepted", "water", 0.77, "QL-B2P", "R. Amsel",
            )  # fmt: skip
            second = frame.iloc[[0]].copy()
            second["id"], second["status"] = "L9", "rejected"
            frame = gpd.GeoDataFrame(np.vstack([frame.to_numpy(), second.to_numpy()]), columns=frame.columns)
            frame = frame.infer_objects().set_geometry("geometry").set_crs("EPSG:32633")
        return frame

    rewrite(folder / "features.gpkg", change)
    words = text_of(gridmap.report(folder)[0])
    for part in (
        "called water by a person",
        "states a depth of 0.77 m",
        "QL-B2P",
        "R. Amsel",
        "A person accepted it",
    ):
        assert part in words, part
    assert "rejected by a person and is left out: L9" in words


class Tags(HTMLParser):
    """Gathers tags and addresses of a page."""

    def __init__(self):
        super().__init__()
        self.tags, self.addresses = [], []

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.addresses += [v for k, v in attrs if k in ("href", "src") and v]


def test_hostile_names_are_shown_as_text(folder):
    """Mark-up, layout commands, letters without a shape and marks that turn the text around hurt nothing."""
    record = json.loads((folder / "run.json").read_text(encoding="utf-8"))
    record["site"] = HOSTILE
    record["warnings"] = [HOSTILE]
    (folder / "run.json").write_text(json.dumps(record), encoding="utf-8")

    def change(name, frame):
        if name in ("linear", "lines_walked", "control"):
            frame.loc[0, "note" if "note" in frame else "name"] = "=HYPERLINK(1) " + HOSTILE
            if name == "linear":
                frame.loc[0, "class"] = HOSTILE
        return frame

    rewrite(folder / "features.gpkg", change)
    pdf, html, *_ = gridmap.report(folder)
    words = text_of(pdf)
    assert "<script>alert(1)</script>" in words
    assert "*bold* _under_ @ref" in words
    assert "\u202e" not in words
    page = html.read_text(encoding="utf-8")
    seen = Tags()
    seen.feed(page)
    assert "script" not in seen.tags
    assert "&lt;script&gt;alert(1)" in page
    assert all(a.startswith(("#", "data:")) for a in seen.addresses)
    cells = [
        c for row in csv.reader((folder / "report" / "features.csv").open(encoding="utf-8")) for c in row
    ]
    assert any(c.startswith("'=HYPERLINK") for c in cells)
    assert not any(c.startswith("=") for c in cells)


def test_what_the_site_file_says_for_the_report_is_told(tmp_path):
    """Client, conditions on the day and the rest of [report] stand in the report; a day that is none is refused."""
    more = '\n[report]\nclient = "Gemeinde Unterau"\nconditions = "short grass, wet"\ndate = "2026-05-17"\n'
    path = write_small_survey(tmp_path, lines=4, site=SITE + more)
    assert load_site(path).report["conditions"] == "short grass, wet"
    gridmap.map(path, tmp_path / "out")
    words = text_of(gridmap.report(tmp_path / "out")[0])
    for part in ("Gemeinde Unterau", "short grass, wet", "2026-05-17"):
        assert part in words, part
    path.write_text((SITE + more).replace("05-17", "17-05"), encoding="utf-8")
    with pytest.raises(InputError, match="this is no day"):
        load_site(path)


def test_template_replaces_words_figures_and_layout(folder, tmp_path):
    """Every word and figure can be the user's: company, logo, heading, a section of their own, a picture."""
    ours = tmp_path / "ours"
    gridmap.report_template(ours)
    (ours / "words.toml").write_text(
        '[report]\ncompany = "Amsel & Söhne"\nsections = ["summary", "access", "limits"]\n'
        '[summary]\nheading = "In short"\n[[own]]\nkey = "access"\nheading = "Access"\ntext = "By the north gate."\n',
        encoding="utf-8",
    )
    Image.new("RGB", (200, 80), (200, 30, 30)).save(ours / "logo.png")
    Image.new("RGB", (60, 40), (1, 2, 3)).save(ours / "figures" / "plan.png")
    layout = (ours / "report.typ").read_text(encoding="utf-8")
    (ours / "report.typ").write_text(layout.replace('rgb("#1f4e5f")', 'rgb("#5f1f1f")'), encoding="utf-8")
    pdf, html, *_ = gridmap.report(folder, template=ours)
    words = text_of(pdf)
    for part in ("Amsel & Söhne", "In short", "By the north gate.", "what this survey cannot say"):
        assert part in words, part
    assert "Provenance" not in words
    assert len(pypdf.PdfReader(pdf).pages[0].images) + len(pypdf.PdfReader(pdf).pages[1].images) >= 2
    page = html.read_text(encoding="utf-8")
    assert page.count("data:image/png") >= 2
    assert "Amsel &amp; Söhne" in page


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ('[summary]\nheadign = "x"', "did you mean heading"),
        ('[summmary]\nheading = "x"', "did you mean summary"),
        ('[summary]\nopening = "{nothing}"', "nothing fills {nothing}"),
        ('[report]\nsections = ["summary"]', "limits must stand"),
        ('[report]\nsections = ["limits", "sumary"]', "none called"),
        ("[report]\ntitle = 3", "text in quotes"),
        ("title = ", "TOML"),
        ('[report]\ndate = "17 May"', "no day"),
    ],
)
def test_a_wrong_template_is_refused_by_name(folder, tmp_path, words, said):
    """A slip in the template names its key and the remedy, and no report is written."""
    (tmp_path / "words.toml").write_text(words, encoding="utf-8")
    with pytest.raises(InputError, match=re.escape(said)):
        gridmap.report(folder, template=tmp_path)
    assert not (folder / "report.pdf").exists()


def test_a_wrong_layout_is_refused(folder, tmp_path):
    """A layout that cannot be typeset is the user's to mend, in one line."""
    (tmp_path / "report.typ").write_text("#nonsense()", encoding="utf-8")
    with pytest.raises(InputError, match="cannot be typeset"):
        gridmap.report(folder, template=tmp_path)


def test_a_radargram_across_the_pipe_is_kept_and_marked_where_it_lies(folder):
    """The pipe 1.7 m up the lines and 0.6 m down is marked there on the radargram of a line across it."""
    made = read_made_map(folder)
    told = Told(made, load_words(None), {})
    rows = made.profiles["profiles"]
    assert rows
    for row in rows:
        (mark,) = marks_on(told, row)
        number = int(row["line"].removeprefix("L"))
        along = PIPE_Y if number % 2 else 3.0 - PIPE_Y
        assert mark.from_m == pytest.approx(along, abs=0.1)
        assert mark.depth_m == pytest.approx(PIPE_DEPTH, abs=0.05)
        with Image.open(folder / "profiles" / row["file"]) as picture:
            cells = np.asarray(picture.convert("L"))
        assert cells.shape == (made.profiles["samples"], 61)
        column = cells[:, round(along / 0.05)].astype(float) - 128
        late = round(6.0 / made.profiles["interval_ns"])  # past the direct wave
        peak = late + int(np.argmax(np.abs(column[late:])))
        # d = v t / 2: 12 ns at 0.1 m/ns
        assert peak * made.profiles["interval_ns"] == pytest.approx(2 * PIPE_DEPTH / 0.1, abs=0.8)
        for fit in row["hyperbolas"]:
            apex = min(fit["curve"], key=lambda p: p[1])
            assert apex[0] == pytest.approx(along, abs=0.1)
            assert apex[1] == pytest.approx(2 * PIPE_DEPTH / 0.1, abs=0.8)


def test_findings_of_a_check_are_told(folder):
    """What a check of the lines said stands in the report beside the lines."""
    found = [{"line": "L03", "kind": "gap", "severity": "walk again", "from_m": 1.2, "to_m": 1.9,
              "words": "30 traces missing", "what_to_do": "Walk it again."}]  # fmt: skip
    (folder / "check.json").write_text(json.dumps({"findings": found}), encoding="utf-8")
    words = text_of(gridmap.report(folder)[0])
    for part in ("L03 gap walk again 1.2 1.9", "30 traces missing", "Walk it again."):
        assert part in words, part


def test_tables_are_in_full_in_the_appendix(folder):
    """The appendix has every column of every feature, every line and every input, as plain numbers."""
    gridmap.report(folder)
    frame = pyogrio.read_dataframe(folder / "features.gpkg", layer="linear")
    rows = list(csv.DictReader((folder / "report" / "features.csv").open(encoding="utf-8")))
    assert float(rows[0]["depth_top_m"]) == pytest.approx(frame.depth_top_m[0])
    assert rows[0]["wkt"].startswith("LINESTRING Z")
    assert len(list(csv.reader((folder / "report" / "lines.csv").open()))) == 11
    record = json.loads((folder / "run.json").read_text(encoding="utf-8"))
    inputs = list(csv.DictReader((folder / "report" / "inputs.csv").open()))
    assert [row["SHA-256"] for row in inputs] == [f["sha256"] for f in record["inputs"]]
    control = list(
        csv.DictReader(io.StringIO((folder / "report" / "control.csv").read_text(encoding="utf-8")))
    )
    assert [float(row["Off east, cm"]) for row in control] == pytest.approx([0, 0, 0], abs=0.05)


def test_no_finished_map_is_refused(tmp_path):
    """A folder without a run of gridmap's is named, with what to do."""
    with pytest.raises(InputError, match="is no finished map"):
        gridmap.report(tmp_path)


@pytest.mark.browser
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_page_is_accessible_and_asks_for_nothing_from_outside(folder, browser, scheme):
    """WCAG by axe-core: no violation in light and in dark; from a file, with no request and no error."""
    from axe_playwright_python.sync_playwright import Axe

    _, html, *_ = gridmap.report(folder)
    page = browser.new_page(
        color_scheme=scheme, bypass_csp=True
    )  # axe-core is put into the page, our CSP forbids it
    asked, errors = [], []
    page.on("request", lambda r: asked.append(r.url))
    page.on("console", lambda m: errors.append(m.text))
    page.goto(html.as_uri())
    assert [v["id"] for v in Axe().run(page).response["violations"]] == []
    assert [url for url in asked if not url.startswith(("file:", "data:"))] == []
    assert errors == []
    page.close()
