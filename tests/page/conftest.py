import json
import os
import shutil
import signal
import subprocess
import sys
import threading
import urllib.error
import urllib.request
from pathlib import Path

import pytest

from gridmap.page.review import open_review
from gridmap.page.server import make_server

ROOT = Path(__file__).parents[2]


@pytest.fixture
def out(mapped, tmp_path):
    """A copy of the finished map that a test may change; pictures left out."""
    return Path(
        shutil.copytree(mapped[0].out, tmp_path / "map", ignore=shutil.ignore_patterns("pictures", "slices"))
    )


class Running:
    """A review that is served, and what may be asked of it."""

    address: str

    @property
    def port(self):
        return int(self.address.split(":")[2].split("/")[0])

    def ask(self, path="", body=None, **headers):
        """Ask as a page of its own would; (status, bytes)."""
        origin = {"Origin": f"http://127.0.0.1:{self.port}"} if body is not None else {}
        asked = urllib.request.Request(
            self.address + path,
            None if body is None else json.dumps(body).encode(),
            {"Content-Type": "application/json", **origin, **headers},
        )
        try:
            with urllib.request.urlopen(asked, timeout=20) as answer:
                return answer.status, answer.read()
        except urllib.error.HTTPError as refused:
            return refused.code, refused.read()

    def rows(self, layer):
        return [row for row in json.loads(self.ask("api/features")[1])["rows"] if row["layer"] == layer]

    def change(self, **change):
        status, answer = self.ask("api/change", change)
        return status, json.loads(answer)


class InProcess(Running):
    """Served by a thread of the test's own process: quick to begin."""

    def __init__(self, out, base=None):
        self.server = make_server(open_review(out, base))
        self.address = self.server.address
        threading.Thread(target=self.server.serve_forever, daemon=True).start()

    def kill(self):
        self.server.shutdown()
        self.server.server_close()


class Apart(Running):
    """`gridmap review` in a process of its own, which can be killed."""

    def __init__(self, out, *words):
        self.process = subprocess.Popen(
            [sys.executable, "-m", "gridmap", "review", str(out), "--no-browser", *words],
            stdout=subprocess.PIPE, text=True, cwd=ROOT, env={**os.environ, "PYTHONUNBUFFERED": "1"},
        )  # fmt: skip
        self.process.stdout.readline()
        self.address = self.process.stdout.readline().strip()
        assert self.address.startswith("http://127.0.0.1:"), self.address

    def kill(self):
        """End it at once, as a power cut would."""
        if self.process.poll() is None:
            self.process.send_signal(signal.SIGKILL)
        self.process.wait()
        self.process.stdout.close()


def starter(out, kind):
    running = []

    def begin(*words):
        running.append(kind(out, *words))
        return running[-1]

    yield begin
    for server in running:
        server.kill()


@pytest.fixture
def start(out):
    """Serve the copied map; all servers are ended after the test."""
    yield from starter(out, InProcess)


@pytest.fixture
def start_apart(out):
    """Serve the copied map from processes that may be killed."""
    yield from starter(out, Apart)
