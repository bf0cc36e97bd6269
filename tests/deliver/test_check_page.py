"""The check page: what it holds, how small it is, and how radargrams are cut down for it."""

import base64
import dataclasses
import json
import re
import zlib

import numpy as np
import pytest
from checked_survey import LINES, SAMPLES, TRACES, findings, made_page

from gridmap.deliver.caution import CAUTION
from gridmap.deliver.check_page import check_page_text, write_check_page
from gridmap.deliver.check_radargram import STEPS, cells_a_line, pack_radargram
from gridmap.errors import OurFaultError

HOSTILE = "</script><script>window.bad=1</script><img src=x onerror='window.bad=2'>&amp;\u2028"


def unpacked(radargram):
    """Cells (trace, sample), by zlib: RFC 1951 by another hand."""
    raw = np.frombuffer(zlib.decompress(base64.b64decode(radargram.text), -15), np.uint8)
    return np.cumsum(raw.reshape(radargram.traces, radargram.samples), axis=0, dtype=np.uint8)


def test_amplitude_comes_back_in_shares_of_the_usual():
    """Noise of one strength fills the steps as its distribution says; a trace twice as strong reads twice as much."""
    rng = np.random.default_rng(1)
    traces = rng.standard_normal((400, 200)).astype(np.float32)
    traces[200] *= 2.0
    packed = pack_radargram("a", traces, np.linspace(0, 20, 400), 0.4, zero_ns=3.0, period_ns=2.5)
    cells = (unpacked(packed).astype(float) - (STEPS + 1) / 2) / ((STEPS - 1) / 2) * 4.0
    assert packed.samples_joined == 1
    usual = np.delete(cells, 200, axis=0)
    # the median size of a normal deviate is 0.6745 standard deviations, and it is the unit
    assert np.median(np.abs(usual)) == pytest.approx(1.0, abs=0.1)
    assert np.median(np.abs(cells[200])) == pytest.approx(2.0, rel=0.2)


def test_samples_are_joined_to_six_a_period_and_times_stay_true():
    """A pulse at 20 ns after time zero stands at the cell whose time is 20 ns, within half a cell."""
    dt, zero = 0.1, 4.0
    traces = 0.01 * np.random.default_rng(2).standard_normal((100, 500)).astype(np.float32)
    traces[50, round((20.0 + zero) / dt)] += 50.0
    packed = pack_radargram("a", traces, np.linspace(0, 5, 100), dt, zero_ns=zero, period_ns=2.5)
    assert packed.samples_joined == 4  # 2.5 / 6 / 0.1 = 4.2
    at = int(unpacked(packed)[50].argmax())
    assert packed.start_ns + at * packed.step_ns == pytest.approx(20.0, abs=0.5 * packed.step_ns)


def test_joined_traces_keep_the_odd_one():
    """Of several traces that share a row the one that is unlike the others is shown, with its own number and place."""
    traces = np.random.default_rng(3).standard_normal((1000, 100)).astype(np.float32)
    traces[537] *= 8.0
    along = np.linspace(0, 50, 1000)
    packed = pack_radargram("a", traces, along, 0.4, zero_ns=0.0, period_ns=2.5, most_cells=20_000)
    assert packed.traces_joined == 5
    assert packed.traces * packed.samples <= 20_000
    assert 538 in packed.first_trace
    row = packed.first_trace.tolist().index(538)
    assert packed.along_m[row] == along[537]
    assert (
        np.abs(unpacked(packed)[row].astype(int) - 32).mean()
        > 2 * np.abs(unpacked(packed)[row + 1].astype(int) - 32).mean()
    )


@pytest.mark.parametrize("lines", [1, 162, 1000])
def test_page_of_any_count_of_lines_stays_under_25_mb(lines):
    """Noise, which packs worst, takes less than 25 MB for as many lines; 162 lines of 1000 traces are survey S."""
    traces = np.random.default_rng(4).standard_normal((1000, 512)).astype(np.float32)
    packed = pack_radargram("a", traces, np.linspace(0, 20, 1000), 0.1, zero_ns=3.0, period_ns=2.5,
                            most_cells=cells_a_line(lines))  # fmt: skip
    beside = 13 * packed.traces  # distance and number of each trace
    assert lines * (len(packed.text) + beside) < 25_000_000


def test_page_holds_verdict_findings_and_caution():
    """The words stand in the page itself; findings are numbered worst first and know their line."""
    text = check_page_text(made_page())
    assert '<h1 id="answer">Walk again</h1>' in text
    assert "2 to walk again, 2 to look at; 9 lines checked" in text
    assert CAUTION in text
    data = json.loads(re.search(r'id="data">(.*?)</script>', text, re.S).group(1))
    assert len(data["lines"]) == LINES
    assert [f["number"] for f in data["findings"]] == [1, 2, 3, 4, 5]
    lifted = next(f for f in data["findings"] if f["title"] == "antenna lifted")
    assert (data["lines"][lifted["line"]]["name"], lifted["stretch"]) == ("Y02", "2.1 to 3.5 m")
    assert data["lines"][0]["radargram"]["rows"] == TRACES
    assert data["lines"][0]["radargram"]["columns"] == SAMPLES


def test_page_says_complete_where_nothing_must_be_walked_again():
    """The verdict follows the findings: notes and things to look at do not call for a second walk."""
    kept = [f for f in findings() if f.severity != "walk again"]
    text = check_page_text(made_page(found=kept))
    assert 'data-answer="complete"' in text
    assert '<h1 id="answer">Complete</h1>' in text


def test_hostile_names_cannot_leave_their_place():
    """A name gives no element and no way out of the script that holds the data; nothing names a remote address."""
    text = check_page_text(made_page(HOSTILE, HOSTILE, HOSTILE))
    assert "<img" not in text
    assert "window.bad=1</script>" not in text
    assert len(re.findall(r"<script[ >]", text)) == 3  # data, radargrams, the program
    policy = re.search(r'Content-Security-Policy" content="([^"]*)"', text).group(1)
    assert policy.startswith("default-src &#x27;none&#x27;")
    assert "unsafe" not in policy
    assert [url for url in re.findall(r"https?://[^\s\"']+", text) if "www.w3.org/2000/svg" not in url] == []


def test_page_repeats_and_is_whole(tmp_path):
    """The same verdict gives the same bytes, and no other file is left."""
    for name in ("a.html", "b.html"):
        write_check_page(tmp_path / name, made_page())
    assert (tmp_path / "a.html").read_bytes() == (tmp_path / "b.html").read_bytes()
    assert len(list(tmp_path.iterdir())) == 2


def test_line_without_radargram_is_our_fault():
    """A line that could not be shown is refused rather than left out in silence."""
    page = made_page()
    with pytest.raises(OurFaultError, match="Y01 has no radargram"):
        check_page_text(dataclasses.replace(page, radargrams={}))
