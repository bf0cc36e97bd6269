"""The server: loopback only, a random token in the address, Host and Origin checked, nothing from outside."""

from __future__ import annotations

import hmac
import json
import secrets
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any
from urllib.parse import parse_qs, urlsplit

from gridmap._version import VERSION
from gridmap.errors import GridmapError, InputError
from gridmap.page.review import Review

HOST = "127.0.0.1"
PORT = 8737
"""Tried first, so that changes a browser could not save find their page again."""
MOST_BYTES = 2_000_000
_HEADERS = {
    "Cache-Control": "no-store",
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Content-Security-Policy": "frame-ancestors 'none'",
}


class ReviewServer(ThreadingHTTPServer):
    """Serves one review under one token."""

    daemon_threads = True
    allow_reuse_address = True

    def __init__(self, review: Review, port: int, token: str | None = None) -> None:
        self.review = review
        self.token = token or secrets.token_urlsafe(24)
        super().__init__((HOST, port), _Handler)

    @property
    def address(self) -> str:
        """What to open in a browser on this machine."""
        return f"http://{HOST}:{self.server_address[1]}/{self.token}/"

    @property
    def names(self) -> tuple[str, str]:
        """Hosts that a request may name."""
        port = self.server_address[1]
        return f"{HOST}:{port}", f"localhost:{port}"


def make_server(review: Review, port: int | None = None) -> ReviewServer:
    """Make a server that listens; `serve_forever` answers.

    Parameters
    ----------
    review : Review
        The map.
    port : int or None
        Port on the loopback interface; None: the usual one, or any free one where that is taken.

    Raises
    ------
    InputError
        If the port asked for cannot be used.
    """
    for wished in (PORT, 0) if port is None else (port,):
        try:
            return ReviewServer(review, wished)
        except OSError as problem:
            reason = problem.strerror or problem
    raise InputError(f"port {port}: cannot be used ({reason}). Choose another with --port, or leave it out.")


class _Handler(BaseHTTPRequestHandler):
    server: ReviewServer
    protocol_version = "HTTP/1.1"
    server_version = f"gridmap/{VERSION}"
    sys_version = ""
    timeout = 60

    def do_GET(self) -> None:
        """Give the page, its features, sections and pictures."""
        path = self._path()
        if path is None:
            return
        asked = {name: values[-1] for name, values in parse_qs(urlsplit(self.path).query).items()}
        review = self.server.review
        try:
            if path == "":
                self._send(
                    200, "text/html; charset=utf-8", review.page(f"/{self.server.token}/api/").encode()
                )
            elif path == "api/features":
                self._json(*review.rows(asked.get("unless", "")))
            elif path == "api/section":
                self._json(*review.section(asked.get("path", "")))
            elif path == "api/base" and review.base is not None:
                self._send(200, "image/png", review.base.png)
            elif path == "api/copy":
                self._send(200, "text/html; charset=utf-8", review.copy_for_client().encode(), "index.html")
            else:
                self._json(404, {"error": "there is nothing at this address"})
        except GridmapError as problem:
            self._json(500, {"error": str(problem)})

    def do_POST(self) -> None:
        """Save a change."""
        path = self._path()
        if path is None:
            return
        if self.headers.get("Origin", "") not in {f"http://{name}" for name in self.server.names}:
            self._json(403, {"error": "asked from another page"})
        elif self.headers.get("Content-Type", "").split(";")[0].strip().lower() != "application/json":
            self._json(415, {"error": "a change is written as JSON"})
        elif path != "api/change":
            self._json(404, {"error": "there is nothing at this address"})
        else:
            self._change()

    def _change(self) -> None:
        size = self.headers.get("Content-Length", "")
        if not size.isdigit() or int(size) > MOST_BYTES:
            self._json(413, {"error": f"a change is at most {MOST_BYTES} bytes"})
            return
        try:
            asked = json.loads(self.rfile.read(int(size)))
        except ValueError:
            self._json(400, {"error": "the change is no JSON"})
            return
        self._json(*self.server.review.change(asked))

    def _path(self) -> str | None:
        """Take what lies behind the token; None, answered, where the request may not be answered."""
        origin = self.headers.get("Origin")
        if self.headers.get("Host", "") not in self.server.names:
            self._json(421, {"error": "asked by a name that is not this machine's own"})
        elif origin is not None and origin not in {f"http://{name}" for name in self.server.names}:
            self._json(403, {"error": "asked from another page"})
        else:
            token, _, path = urlsplit(self.path).path.removeprefix("/").partition("/")
            if hmac.compare_digest(token.encode(), self.server.token.encode()):
                return path
            self._json(
                404, {"error": "there is nothing at this address; open the one that gridmap review prints"}
            )
        return None

    def _json(self, status: int, body: dict[str, Any]) -> None:
        # A request that is refused may have a body that was never read: the connection ends.
        self.close_connection = self.close_connection or status >= 400
        self._send(status, "application/json", json.dumps(body, allow_nan=False).encode())

    def _send(self, status: int, kind: str, body: bytes, download: str = "") -> None:
        self.send_response(status)
        for name, value in {**_HEADERS, "Content-Type": kind, "Content-Length": str(len(body))}.items():
            self.send_header(name, value)
        if download:
            self.send_header("Content-Disposition", f'attachment; filename="{download}"')
        if self.close_connection:
            self.send_header("Connection", "close")
        self.end_headers()
        self.wfile.write(body)

    def log_message(self, format: str, *args: Any) -> None:  # noqa: A002
        """Say nothing: addresses hold the token."""
