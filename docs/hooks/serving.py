"""Serves a folder over http to this machine alone."""

import errno
import os
import sys
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

ADDRESS = "127.0.0.1"
PORTS_TO_TRY = 20


class Handler(SimpleHTTPRequestHandler):
    """Answers with the folder's files: the media types are right whatever this machine's own tables say."""

    protocol_version = "HTTP/1.1"
    disable_nagle_algorithm = True  # or a small file waits 40 ms for what was sent before it to be confirmed
    extensions_map = {  # noqa: RUF012  (the base class declares it)
        "": "application/octet-stream",
        ".css": "text/css; charset=utf-8",
        ".html": "text/html; charset=utf-8",
        ".ico": "image/x-icon",
        ".js": "text/javascript; charset=utf-8",
        ".json": "application/json",
        ".mjs": "text/javascript; charset=utf-8",
        ".png": "image/png",
        ".py": "text/plain; charset=utf-8",
        ".svg": "image/svg+xml",
        ".txt": "text/plain; charset=utf-8",
        ".wasm": "application/wasm",
        ".webmanifest": "application/manifest+json",
        ".woff2": "font/woff2",
        ".xml": "application/xml",
        ".zip": "application/zip",
    }

    def end_headers(self) -> None:
        # A file that was built anew must not be shadowed by the one of before.
        self.send_header("Cache-Control", "no-cache")
        super().end_headers()

    def log_message(self, *_: Any) -> None:
        """Says nothing: what matters here is the address, not each request."""


class Server(ThreadingHTTPServer):
    """A threaded server that a page may leave in the middle of an answer."""

    daemon_threads = True
    # On Windows this would let two servers share a port.
    allow_reuse_address = os.name != "nt"

    def handle_error(self, request: Any, client_address: Any) -> None:
        if not isinstance(sys.exception(), ConnectionError):
            super().handle_error(request, client_address)


def open_server(folder: Path, port: int, handler: type[Handler] = Handler) -> Server:
    """A server for `folder` on `port`, or on the next free one when it is taken.

    Raises OSError when the ports that follow are taken too. Port 0 takes any free one.
    """
    serve_folder = partial(handler, directory=str(folder))
    for candidate in range(port, min(port + PORTS_TO_TRY, 65536)):
        try:
            return Server((ADDRESS, candidate), serve_folder)
        except OSError as problem:
            if problem.errno != errno.EADDRINUSE:
                raise
    raise OSError(errno.EADDRINUSE, f"the ports from {port} to {port + PORTS_TO_TRY - 1} are taken")
