"""The server of a preview: pages from memory, to this machine alone.

It is the standard library's server. The one that mkdocs brings (``mkdocs.livereload``) does not serve here: it
binds to whatever host it is told, answers whatever ``Host`` a request names, so that a foreign site which points
its own name at this machine could read the pages; it makes paths of the disk from addresses and follows links there;
it puts its script inline, which our pages' policy refuses; and it holds one connection per open page without end.
Of its parts the watcher (watchdog) is used.

Here the socket is bound to 127.0.0.1 and there is no way to ask for another; a request must name this very
address and port; one that another site's page sends is refused; what is served is looked up in the list of
the report's pages, never on the disk; and nothing can be sent that changes anything.
"""

from __future__ import annotations

from contextlib import suppress
from email.message import Message
from http import HTTPStatus
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from posixpath import splitext
from socket import socket
from threading import BoundedSemaphore
from typing import NamedTuple, TypeAlias
from urllib.parse import parse_qs, quote, unquote, urlsplit

from sitegen import __version__
from sitegen.findings.problems import OutputFault, WrongUse
from sitegen.preview.board import Board, Shown
from sitegen.preview.panel import GOOD, OWN, mark_of, notice, own_file, panel, with_panel

LOOPBACK = "127.0.0.1"
NAMES = (LOOPBACK, "localhost")
"""What a request may call this machine."""
HEARTBEAT_S = 10.0
"""How often an open stream says that it is alive, so that one that nobody hears any more ends."""
MOST_STREAMS = 64
MOST_CONNECTIONS = 256
"""How many may be open at once: one more is closed unanswered, for each takes a thread of the machine."""
MOST_PATH_CHARS = 2_048
HTML = "text/html; charset=utf-8"
Request: TypeAlias = socket | tuple[bytes, socket]
KINDS = {
    ".html": HTML,
    ".css": "text/css; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".json": "application/json",
    ".svg": "image/svg+xml",
    ".png": "image/png",
    ".jpg": "image/jpeg",
    ".jpeg": "image/jpeg",
    ".webp": "image/webp",
    ".gif": "image/gif",
}
SAFE = {
    "Cache-Control": "no-store",
    "X-Content-Type-Options": "nosniff",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Content-Security-Policy": "frame-ancestors 'self'",
    "Referrer-Policy": "no-referrer",
}
"""Headers of every answer: no other site may read, frame or embed it, and no cache keeps it."""


class Answer(NamedTuple):
    """What a request gets: status, kind of content, content, and where else to look."""

    status: HTTPStatus
    kind: str = "text/plain; charset=utf-8"
    content: bytes = b""
    location: str = ""


def refusal(headers: Message, port: int) -> Answer | None:
    """Return the answer to a request that did not come from a page of ours or from a person, None where it did.

    >>> asked = Message()
    >>> asked["Host"] = "elsewhere.example:8000"
    >>> refusal(asked, 8000).status
    <HTTPStatus.MISDIRECTED_REQUEST: 421>
    """
    hosts = headers.get_all("Host") or []
    if len(hosts) != 1 or hosts[0].lower() not in {f"{name}:{port}" for name in NAMES}:
        return Answer(HTTPStatus.MISDIRECTED_REQUEST, content=b"This server is for this machine alone.\n")
    site = headers.get("Sec-Fetch-Site", "none")
    to_be_seen = headers.get("Sec-Fetch-Mode") == "navigate" and headers.get("Sec-Fetch-Dest") == "document"
    origin = headers.get("Origin")
    foreign = origin is not None and origin not in {f"http://{name}:{port}" for name in NAMES}
    if foreign or (site not in ("none", "same-origin") and not to_be_seen):
        return Answer(HTTPStatus.FORBIDDEN, content=b"Not for pages of other sites.\n")
    return None


def site_path(target: str) -> str | None:
    """Return the path on the site that the target of a request names, None for what can be no path.

    >>> site_path("/locations/SG-01.html?x=1")
    'locations/SG-01.html'
    >>> site_path("/"), site_path("/a/")
    ('index.html', 'a/index.html')
    >>> site_path("/%2e%2e/etc/passwd") is None, site_path("//etc/passwd") is None
    (True, True)
    """
    if not target.startswith("/") or len(target) > MOST_PATH_CHARS:
        return None
    try:
        path = unquote(target.partition("?")[0].partition("#")[0], errors="strict")[1:]
    except UnicodeDecodeError:
        return None
    parts = path.split("/")
    if any(part in (".", "..") for part in parts) or "" in parts[:-1] or "\\" in path or "\0" in path:
        return None
    return path + "index.html" if path.endswith("/") or not path else path


def answer(path: str, shown: Shown) -> Answer:
    """Return what stands at a path of the site: a page with its panel, a file, or why there is none."""
    folder, _, inner = path.partition("/")
    if folder == OWN:
        content = own_file(inner)
        return Answer(HTTPStatus.OK, _kind(inner), content) if content is not None else _nothing()
    good = folder == GOOD
    if good and not shown.stopped:
        return Answer(HTTPStatus.FOUND, location="/" + quote(inner))
    return _of_site(inner if good else path, shown, good=good)


def _of_site(path: str, shown: Shown, *, good: bool) -> Answer:
    pages = shown.pages
    if pages is not None and path in pages.urls and (good or not shown.stopped):
        return Answer(HTTPStatus.OK, HTML, with_panel(pages.get(path) or b"", shown, path, good=good))
    if pages is None or path in pages.urls:
        return Answer(HTTPStatus.OK, HTML, notice(shown, path)) if path.endswith(".html") else _nothing()
    content = pages.get(path)
    if content is None:
        return Answer(HTTPStatus.NOT_FOUND, HTML, notice(shown, path))
    return Answer(HTTPStatus.OK, _kind(path), content)


def panel_answer(query: str, shown: Shown) -> Answer:
    """Return the panel that a page would have now; its mark tells whether the page is still the same."""
    asked = parse_qs(query)
    path, good = asked.get("at", [""])[0], bool(asked.get("good", [""])[0])
    pages = shown.pages
    if pages is None or path not in pages.urls or (shown.stopped and not good):
        return Answer(HTTPStatus.OK, HTML, notice(shown, path))
    page = pages.get(path) or b""
    made = panel(shown, path, mark_of(page), good=good and shown.stopped)
    return Answer(HTTPStatus.OK, HTML, made.encode())


def _nothing() -> Answer:
    return Answer(HTTPStatus.NOT_FOUND, content=b"There is no such file.\n")


def _kind(path: str) -> str:
    return KINDS.get(splitext(path)[1].lower(), "application/octet-stream")


class Server(ThreadingHTTPServer):
    """Serves what is on the board at a port of the loopback address, ``port`` 0 for a free one.

    Raises WrongUse where the port is in use.
    """

    daemon_threads = True
    block_on_close = False
    allow_reuse_address = True

    def __init__(self, board: Board, port: int = 0) -> None:
        self.board = board
        self.ending = False
        self.streams = BoundedSemaphore(MOST_STREAMS)
        self.connections = BoundedSemaphore(MOST_CONNECTIONS)
        try:
            super().__init__((LOOPBACK, port), _Handler)
        except (OSError, OverflowError) as error:
            raise WrongUse(f"port {port} can't be used: {getattr(error, 'strerror', None) or error}") from error

    @property
    def url(self) -> str:
        """The address of the first page."""
        return f"http://{LOOPBACK}:{self.server_port}/"

    def end(self) -> None:
        """Stop serving, and wake the streams so that they end."""
        self.ending = True
        self.board.show(self.board.shown)
        self.shutdown()

    def process_request(self, request: Request, client_address: object) -> None:
        """Answer in a thread of its own, unless as many are answered already as may be."""
        if self.connections.acquire(blocking=False):
            super().process_request(request, client_address)
        else:
            self.shutdown_request(request)

    def process_request_thread(self, request: Request, client_address: object) -> None:
        """Answer, and let another connection have the place."""
        try:
            super().process_request_thread(request, client_address)
        finally:
            self.connections.release()

    def handle_error(self, request: object, client_address: object) -> None:
        """Say nothing of a browser that went away: what is wrong with a page is told on the page."""


class _Handler(BaseHTTPRequestHandler):
    """Answers GET and HEAD; anything else is refused."""

    server: Server
    protocol_version = "HTTP/1.1"
    server_version = f"sitegen/{__version__}"
    sys_version = ""
    timeout = 60

    def do_GET(self) -> None:
        """Answer with content."""
        target = urlsplit(self.path.partition("#")[0]) if self.path.startswith("/") else None
        refused = refusal(self.headers, self.server.server_port)
        if refused is None and target and target.path == f"/{OWN}/events" and self.command == "GET":
            self._stream(target.query)
            return
        self._send(refused or self._found(target.query if target else ""))

    do_HEAD = do_GET  # noqa: N815 - as above

    def _found(self, query: str) -> Answer:
        path = site_path(self.path)
        shown = self.server.board.shown
        try:
            if path is None:
                return _nothing()
            return panel_answer(query, shown) if path == f"{OWN}/panel" else answer(path, shown)
        except Exception as fault:  # noqa: BLE001 - one page's fault is told in its place, and the others go on
            words = f"{type(fault).__name__}: {fault if isinstance(fault, OutputFault) else 'a program error'}\n"
            return Answer(HTTPStatus.INTERNAL_SERVER_ERROR, content=words.encode())

    def _send(self, given: Answer) -> None:
        self.send_response(given.status)
        for name, value in SAFE.items():
            self.send_header(name, value)
        if given.location:
            self.send_header("Location", given.location)
        self.send_header("Content-Type", given.kind)
        self.send_header("Content-Length", str(len(given.content)))
        self.end_headers()
        if self.command != "HEAD":
            self.wfile.write(given.content)

    def _stream(self, query: str) -> None:
        """Send the number of what is on show whenever it changes, until nobody listens."""
        if not self.server.streams.acquire(blocking=False):
            self._send(Answer(HTTPStatus.SERVICE_UNAVAILABLE, content=b"Too many pages are open.\n"))
            return
        try:
            with suppress(OSError):
                self._send_events(query)
        finally:
            self.close_connection = True
            self.server.streams.release()

    def _send_events(self, query: str) -> None:
        self.send_response(HTTPStatus.OK)
        for name, value in SAFE.items():
            self.send_header(name, value)
        self.send_header("Content-Type", "text/event-stream")
        self.send_header("Connection", "close")
        self.end_headers()
        after = parse_qs(query).get("after", ["0"])[0]
        number = int(after) if after.isascii() and after.isdigit() and len(after) < 10 else 0
        self.wfile.write(b"retry: 1000\n\n")
        while not self.server.ending:
            newer = self.server.board.newer(number, HEARTBEAT_S)
            number = newer.number if newer else number
            self.wfile.write(f"data: {number}\n\n".encode() if newer else b":\n\n")

    def log_message(self, format: str, *args: object) -> None:  # noqa: A002 - the standard library's name
        """Write nothing to the terminal."""
