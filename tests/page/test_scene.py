"""The view in three dimensions, and the mesh behind it."""

from pathlib import Path

import numpy as np
import pytest

import gridmap.deliver.html as html

pytestmark = pytest.mark.browser
ASSETS = Path(html.__file__).parent / "assets"


@pytest.fixture
def page(browser, mapped):
    context = browser.new_context(viewport={"width": 900, "height": 800})
    page = context.new_page()
    faults = []
    # A software renderer complains of pictures being read back, which only a test does.
    page.on(
        "console",
        lambda m: (
            faults.append(m.text) if m.type in ("error", "warning") and "ReadPixels" not in m.text else None
        ),
    )
    page.on("pageerror", lambda error: faults.append(str(error)))
    page.goto((mapped[0].out / "index.html").as_uri())
    page.wait_for_selector("html[data-slices=ready]")
    page.click("[data-view=scene]")
    page.wait_for_selector("#scene[data-triangles]")
    yield page
    assert faults == []
    context.close()


def picture(page):
    import io

    from PIL import Image

    page.wait_for_timeout(150)
    return np.asarray(
        Image.open(io.BytesIO(page.locator("#scene-sheet").screenshot())).convert("RGB"), dtype=int
    )


def test_pipe_and_strong_echoes_are_drawn(page):
    """The pipe's surface has triangles; a higher level has fewer; the tube's colour is on the screen."""
    low = int(page.get_attribute("#scene", "data-triangles"))
    assert low > 100
    page.fill("#scene-level", "20")
    page.wait_for_timeout(200)
    assert int(page.get_attribute("#scene", "data-triangles")) < low
    page.uncheck("#scene-surface")
    page.uncheck("#scene-slice")
    shown = picture(page)
    red = (
        (shown[..., 0] > 120) & (shown[..., 1] < 0.6 * shown[..., 0]) & (shown[..., 2] < 0.5 * shown[..., 0])
    )
    assert red.sum() > 200


def test_keys_turn_the_scene_and_bring_it_back(page):
    """Arrows turn, 0 goes back to the first sight, heights can be stretched and the page says so."""
    first = picture(page)
    page.focus("#scene")
    page.keyboard.press("ArrowLeft")
    assert np.abs(picture(page) - first).max() > 60
    page.keyboard.press("0")
    assert (np.abs(picture(page) - first).max(axis=2) > 30).mean() < 0.002
    page.fill("#scene-up", "3")
    assert page.inner_text("#scene-up-words") == "heights 3 times"


def test_surface_of_a_ball_is_the_ball(browser):
    """Surface nets of a distance field: closed, outward, volume within 3 % of 4/3 pi r3."""
    page = browser.new_page()
    source = (ASSETS / "surface.js").read_text(encoding="utf-8").replace("export function", "function")
    page.add_script_tag(content=source)
    places, order = page.evaluate(
        """() => { const n = 26, r = 9.3, field = new Float32Array(n ** 3);
        for (let k = 0; k < n; k += 1) for (let j = 0; j < n; j += 1) for (let i = 0; i < n; i += 1)
          field[(k * n + j) * n + i] = r - Math.hypot(i - 12.4, j - 12.7, k - 12.5);
        const net = surfaceNets(field, [n, n, n], 0); return [[...net.positions], [...net.indices]]; }"""
    )
    import trimesh

    ball = trimesh.Trimesh(np.reshape(places, (-1, 3)), np.reshape(order, (-1, 3)), process=False)
    assert ball.is_watertight
    assert ball.is_winding_consistent
    assert abs(ball.volume) == pytest.approx(4 / 3 * np.pi * 9.3**3, rel=0.03)
    np.testing.assert_allclose(ball.vertices.mean(axis=0), [12.4, 12.7, 12.5], atol=0.05)
    page.close()
