"""The server: whom it answers, and what is left when it is killed."""

import http.client
import json
import threading

import pytest

DRAWN = {"path": [[500000.5, 5400000.5], [500001.5, 5400001.0]], "columns": {"status": "drawn"}}


def raw(server, method, path, headers, body=None):
    connection = http.client.HTTPConnection("127.0.0.1", server.port, timeout=10)
    connection.request(method, path, body, headers)
    answer = connection.getresponse()
    return answer.status, answer.read(), dict(answer.getheaders())


def test_strangers_are_turned_away(start):
    """Wrong token, another host's name, another page's origin, a form: none is answered, nothing is written."""
    server = start()
    own, home = f"127.0.0.1:{server.port}", "/" + server.address.split("/")[3] + "/"
    change = json.dumps({"layer": "linear", "fid": None, "add": DRAWN})
    good = {"Host": own, "Origin": f"http://{own}", "Content-Type": "application/json"}
    assert raw(server, "GET", "/", {"Host": own})[0] == 404
    assert raw(server, "GET", "/" + "x" * 32 + "/", {"Host": own})[0] == 404
    assert raw(server, "GET", home, {"Host": f"evil.example:{server.port}"})[0] == 421  # DNS rebinding
    assert raw(server, "GET", home, {"Host": own, "Origin": "https://evil.example"})[0] == 403
    assert raw(server, "GET", home + "../run.json", {"Host": own})[0] == 404
    for bad in ({"Origin": "https://evil.example"}, {"Origin": "null"}, {"Content-Type": "text/plain"}):
        assert raw(server, "POST", home + "api/change", {**good, **bad}, change)[0] in (403, 415)
    without = {name: value for name, value in good.items() if name != "Origin"}
    assert raw(server, "POST", home + "api/change", without, change)[0] == 403
    assert raw(server, "POST", home + "api/change", {**good, "Content-Length": "99999999"})[0] == 413
    assert not [row for row in server.rows("linear") if row["columns"]["status"] == "drawn"]
    assert raw(server, "POST", home + "api/change", good, change)[0] == 200


def test_the_page_may_reach_its_own_server_alone(start):
    """Policy and headers: no other host, no frame, no cache, no guessing of types, no referrer."""
    server = start()
    status, body, headers = raw(
        server, "GET", "/" + server.address.split("/")[3] + "/", {"Host": f"127.0.0.1:{server.port}"}
    )
    text = body.decode()
    assert status == 200
    assert "connect-src &#x27;self&#x27;" in text
    assert "default-src &#x27;none&#x27;" in text
    assert "unsafe" not in text.split("</head>")[0].split('content="')[1].split('"')[0]
    assert headers["X-Frame-Options"] == "DENY"
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert headers["Cache-Control"] == "no-store"
    assert headers["Referrer-Policy"] == "no-referrer"


def test_it_listens_on_the_loopback_interface_only(start):
    """No other machine can reach it: the socket is bound to 127.0.0.1."""
    from gridmap.page.server import HOST

    assert HOST == "127.0.0.1"
    assert start().address.startswith("http://127.0.0.1:")


def test_a_killed_server_has_lost_nothing_that_it_confirmed(start_apart, start):
    """SIGKILL in the middle of a burst: every change that was answered is there, and the file is whole."""
    server = start_apart()
    confirmed = []

    def draw():
        for k in range(200):
            try:
                status, answer = server.change(
                    layer="linear", fid=None, add={**DRAWN, "columns": {"status": "drawn", "when": str(k)}}
                )
            except OSError:
                return
            if status == 200:
                confirmed.append(answer["row"]["columns"]["when"])

    burst = threading.Thread(target=draw)
    burst.start()
    while len(confirmed) < 5:
        pass
    server.kill()
    burst.join()
    assert 5 <= len(confirmed) < 200
    there = {row["columns"].get("when") for row in start().rows("linear")}
    assert set(confirmed) <= there


def test_the_copy_for_the_client_holds_what_was_said(start):
    """The read-only page shows the accepted feature, and knows no server."""
    server = start()
    row = server.rows("linear")[0]
    server.change(
        layer="linear", fid=row["fid"], set={"status": ["found", "accepted"], "note": [None, "</script>"]}
    )
    text = server.ask("api/copy")[1].decode()
    data = json.loads(text.split('id="data">')[1].split("</script>")[0])
    first = next(f for f in data["features"] if f["layer"] == "linear")
    assert (first["columns"]["status"], first["columns"]["note"]) == ("accepted", "</script>")
    assert 'id="live"' not in text
    assert "connect-src &#x27;none&#x27;" in text


@pytest.mark.parametrize("missing", ["index.html", "features.gpkg"])
def test_a_folder_that_is_no_map_is_refused(out, missing):
    """The message names what is missing and what to do."""
    from click.testing import CliRunner

    from gridmap.cli.main import cli
    from gridmap.errors import InputError

    (out / missing).unlink()
    done = CliRunner().invoke(cli, ["review", str(out), "--no-browser"])
    assert isinstance(done.exception, InputError)
    assert missing in str(done.exception)
    assert "gridmap map" in str(done.exception)


def test_section_is_cut_from_the_volume(start, out):
    """The middle of the section's strongest bytes over the pipe is where xarray finds the volume's maximum."""
    import base64

    import numpy as np
    import xarray

    server = start()
    x = 1.1
    status, answer = server.ask(f"api/section?path={500000 + x},5400000.2;{500000 + x},5400002.8")
    assert status == 200
    cut = json.loads(answer)
    cells = np.frombuffer(base64.b64decode(cut["cells"]), np.uint8).reshape(cut["traces"], cut["samples"])
    volume = xarray.open_zarr(out / "volume.zarr")["amplitude"].sel(x=x, method="nearest")
    trace = round((1.7 - 0.2) / cut["step"])
    depth = np.linspace(cut["from"], cut["to"], cut["samples"])
    deep = depth > 0.4
    wanted = float(volume.z[deep][int(volume.sel(y=1.7, method="nearest").values[deep].argmax())])
    strongest = cells[trace][deep] == cells[trace][deep].max()  # bytes end at the top of the colour scale
    assert depth[deep][strongest].mean() == pytest.approx(wanted, abs=0.03)
    for bad in ("", "1,2", "1,2;nan,3", "a,b;c,d", "0,0;9e9,9e9", "1,1;1,1"):
        assert server.ask(f"api/section?path={bad}")[0] == 400


def test_base_picture_lies_where_it_belongs(start, out, tmp_path):
    """A picture in degrees, split at the map's middle meridian, is split at that easting in the map's own metres."""
    import io

    import numpy as np
    import rasterio
    from PIL import Image
    from pyproj import Transformer
    from rasterio.transform import from_bounds

    to_degrees = Transformer.from_crs(32633, 4326, always_xy=True)
    west, south = to_degrees.transform(499990, 5399990)
    east, north = to_degrees.transform(500012.2, 5400013)
    picture = np.zeros((3, 400, 400), np.uint8)
    picture[0, :, :200], picture[2, :, 200:] = 255, 255  # red west, blue east of 500001.1
    path = tmp_path / "ortho.tif"
    with rasterio.open(
        path, "w", driver="GTiff", width=400, height=400, count=3, dtype="uint8", crs=4326,
        transform=from_bounds(west, south, east, north, 400, 400),
    ) as data:  # fmt: skip
        data.write(picture)
    server = start(path)
    live = json.loads(server.ask()[1].decode().split('id="live">')[1].split("</script>")[0])
    shown = np.asarray(Image.open(io.BytesIO(server.ask("api/base")[1])).convert("RGB"), dtype=int)
    left, _, right, _ = live["base"]["bounds"]
    split = int(np.argmax(shown[shown.shape[0] // 2, :, 2] > 128)) / shown.shape[1] * (right - left) + left
    assert split == pytest.approx(500001.1, abs=0.08)


def test_base_picture_from_elsewhere_is_refused(out, tmp_path):
    """Another town's plan, a picture without a place, a text: the message says which."""
    import numpy as np
    import rasterio

    from gridmap.errors import InputError
    from gridmap.page.review import open_review

    for name, crs, words in (
        ("far", 32633, "elsewhere"),
        ("bare", None, "no CRS"),
        ("text", "", "cannot be read"),
    ):
        path = tmp_path / f"{name}.tif"
        if crs == "":
            path.write_text("no picture")
        else:
            with rasterio.open(path, "w", driver="GTiff", width=4, height=4, count=1, dtype="uint8", crs=crs,
                               transform=rasterio.transform.from_origin(1000, 1000, 1, 1)) as data:  # fmt: skip
                data.write(np.ones((1, 4, 4), np.uint8))
        with pytest.raises(InputError, match=words):
            open_review(out, path)
