"""The server answers this machine alone, with what is on the list, and with nothing that lies on the disk."""

from __future__ import annotations

import socket
import threading
from collections.abc import Iterator
from contextlib import suppress
from http import HTTPStatus
from http.client import HTTPConnection, HTTPResponse, RemoteDisconnected
from time import sleep
from typing import cast

import pytest

from sitegen.findings.problems import Finding, Severity, Where, WrongUse
from sitegen.preview.board import Board, Shown
from sitegen.preview.pages import Pages
from sitegen.preview.server import LOOPBACK, MOST_PATH_CHARS, Server

PAGE = b"<!doctype html><html><head></head><body><main>A page.</main>\n</body></html>"
STOP = Finding("file-missing", Severity.STOP, "a", Where("a.csv"), "no such file", "a file", "add a.csv")


class Some:
    """A site of two pages and a script, in place of a report's."""

    urls = frozenset({"index.html", "locations/SG-01.html"})
    later = frozenset({"downloads/report.pdf"})

    def get(self, path: str) -> bytes | None:
        """Return what stands at a path."""
        return PAGE if path in self.urls else {"ui/site.js": b"// a script"}.get(path)


SOME = cast("Pages", Some())


@pytest.fixture
def server() -> Iterator[Server]:
    """Serve the small site."""
    board = Board()
    board.show(Shown(SOME, working=False))
    with Server(board) as started:
        thread = threading.Thread(target=started.serve_forever, args=(0.01,))
        thread.start()
        yield started
        started.end()
        thread.join()


def ask(server: Server, target: str, method: str = "GET", **headers: str) -> tuple[HTTPResponse, bytes]:
    """Send a request as it stands, and return the answer."""
    connection = HTTPConnection(LOOPBACK, server.server_port, timeout=60)
    connection.putrequest(method, target, skip_host="Host" in headers)
    for name, value in headers.items():
        connection.putheader(name.replace("_", "-"), value)
    connection.endheaders()
    answer = connection.getresponse()
    content = answer.read()
    connection.close()
    return answer, content


def test_it_is_bound_to_the_loopback_address(server: Server) -> None:
    """No other address of this machine is listened on."""
    assert server.socket.getsockname()[0] == "127.0.0.1"
    assert server.url == f"http://127.0.0.1:{server.server_port}/"
    with pytest.raises(OSError, match="refused"), socket.socket() as other:
        other.connect(("127.0.0.2", server.server_port))


@pytest.mark.parametrize("target", ["/", "/index.html", "/locations/SG-01.html", "/index.html?x=1"])
def test_pages_are_served_with_the_panel(server: Server, target: str) -> None:
    """A page says that it is a preview; without the panel it is the page of the report."""
    answer, content = ask(server, target)
    assert answer.status == 200
    assert b"Preview, not a report" in content
    start, end = content.index(b"<link"), content.index(b"</body>")
    assert content[:start] + content[end:] == PAGE


@pytest.mark.parametrize(
    "host",
    ["evil.example", "evil.example:{port}", "127.0.0.1", "127.0.0.1:1", "127.0.0.1.evil.example:{port}",
     "localhost:{port}.evil.example", "0.0.0.0:{port}", "[::1]:{port}", "user@127.0.0.1:{port}", ""],
)  # fmt: skip
def test_a_request_that_names_another_host_is_refused(server: Server, host: str) -> None:
    """A foreign name that was made to lead here gets nothing of the pages (DNS rebinding)."""
    answer, content = ask(server, "/index.html", Host=host.format(port=server.server_port))
    assert answer.status == 421
    assert b"A page." not in content


def test_a_request_without_or_with_two_hosts_is_refused(server: Server) -> None:
    """Exactly one host is named."""
    for hosts in ((), (f"127.0.0.1:{server.server_port}", "evil.example")):
        lines = ["GET / HTTP/1.1", *(f"Host: {host}" for host in hosts), "Connection: close", "", ""]
        with socket.create_connection((LOOPBACK, server.server_port), timeout=60) as plain:
            plain.sendall("\r\n".join(lines).encode())
            said = plain.makefile("rb").read()
        assert said.startswith(b"HTTP/1.1 421")
        assert b"A page." not in said


def test_this_machine_may_be_called_by_its_name(server: Server) -> None:
    """``localhost`` is this machine too."""
    assert ask(server, "/", Host=f"localhost:{server.server_port}")[0].status == 200


@pytest.mark.parametrize(
    "headers",
    [
        {"Origin": "https://evil.example"},
        {"Origin": "null"},
        {"Sec_Fetch_Site": "cross-site", "Sec_Fetch_Mode": "no-cors", "Sec_Fetch_Dest": "script"},
        {"Sec_Fetch_Site": "cross-site", "Sec_Fetch_Mode": "navigate", "Sec_Fetch_Dest": "iframe"},
        {"Sec_Fetch_Site": "same-site", "Sec_Fetch_Mode": "cors", "Sec_Fetch_Dest": "empty"},
    ],
)
def test_what_a_page_of_another_site_asks_for_is_refused(server: Server, headers: dict[str, str]) -> None:
    """No other site reads a page, frames it or runs a script from here; the stream of events is no exception."""
    for target in ("/index.html", "/ui/site.js", "/-preview/events", "/-preview/panel?at=index.html"):
        answer, content = ask(server, target, **headers)
        assert answer.status == 403
        assert b"A page." not in content


def test_a_link_from_elsewhere_may_be_followed(server: Server) -> None:
    """A person who follows a link to the preview sees it."""
    headers = {"Sec_Fetch_Site": "cross-site", "Sec_Fetch_Mode": "navigate", "Sec_Fetch_Dest": "document"}
    assert ask(server, "/", **headers)[0].status == 200


@pytest.mark.parametrize(
    "target",
    ["/../../etc/passwd", "/%2e%2e/%2e%2e/etc/passwd", "//etc/passwd", "/..%2f..%2fetc/passwd", "/etc/passwd",
     "/%2fetc%2fpasswd", "/..\\..\\etc\\passwd", "/%5c..%5cetc", "/index.html%00.js", "/./index.html",
     "/ui/../index.html", "/%252e%252e/etc/passwd", "/%ff", "/-preview/../index.html", "/-preview/panel.html",
     "/-preview/%2e%2e/site/page.html", "/-last-good/../index.html", "/" + "a" * MOST_PATH_CHARS],
)  # fmt: skip
def test_no_path_leads_out_of_the_site(server: Server, target: str) -> None:
    """Only what the report lists is served: steps upwards, encoded or not, lead nowhere."""
    answer, content = ask(server, target)
    assert answer.status in (302, 404)
    assert b"root:" not in content
    assert b"A page." not in content


@pytest.mark.parametrize("method", ["POST", "PUT", "DELETE", "PATCH", "OPTIONS", "TRACE", "CONNECT"])
def test_nothing_can_be_sent(server: Server, method: str) -> None:
    """A preview can be read and nothing else."""
    assert ask(server, "/index.html", method)[0].status == 501


def test_the_head_of_an_answer_has_no_content(server: Server) -> None:
    """HEAD tells the length alone."""
    answer, content = ask(server, "/ui/site.js", "HEAD")
    assert (answer.status, content, answer.headers["Content-Length"]) == (200, b"", "11")


@pytest.mark.parametrize(
    "target", ["/", "/ui/site.js", "/nothing.html", "/-preview/preview.js", "/downloads/report.pdf"]
)
def test_every_answer_is_for_its_own_pages_alone(server: Server, target: str) -> None:
    """No cache keeps it, no browser guesses its kind, and no other site may embed it."""
    headers = ask(server, target)[0].headers
    assert headers["Cache-Control"] == "no-store"
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert headers["Cross-Origin-Resource-Policy"] == "same-origin"
    assert headers["Content-Security-Policy"] == "frame-ancestors 'self'"


def test_a_file_that_only_a_build_makes_says_so(server: Server) -> None:
    """The printed report is listed and not there."""
    answer, content = ask(server, "/downloads/report.pdf")
    assert answer.status == 404
    assert b"sitegen build" in content


def test_findings_stand_instead_of_pages_while_they_stop(server: Server) -> None:
    """A page gives way to the findings, and the last good one is a link away; afterwards that link leads back."""
    assert ask(server, "/-last-good/locations/SG-01.html")[0].headers["Location"] == "/locations/SG-01.html"
    server.board.show(Shown(SOME, (STOP,), working=False))
    _, content = ask(server, "/locations/SG-01.html")
    assert b"A page." not in content
    assert b"no such file" in content
    assert b'href="/-last-good/locations/SG-01.html"' in content
    _, good = ask(server, "/-last-good/locations/SG-01.html")
    assert b"A page." in good
    assert b"its last complete version" in good
    assert ask(server, "/-last-good/ui/site.js")[0].status == 200


def test_before_the_first_pages_are_made_that_is_said(server: Server) -> None:
    """Whoever is early sees what goes on."""
    server.board.show(Shown())
    answer, content = ask(server, "/")
    assert answer.status == 200
    assert b"The pages are being built" in content


@pytest.mark.parametrize("shown", [Shown(SOME, working=False), Shown(SOME, (STOP,), working=False), Shown()])
@pytest.mark.parametrize("path", ["index.html", "locations/SG-01.html", "nothing.html", "downloads/report.pdf"])
def test_the_panel_that_is_asked_for_is_that_of_the_page(server: Server, shown: Shown, path: str) -> None:
    """A page that is as it was finds its own mark in the panel, so that it is not loaded again and again."""
    server.board.show(shown)
    _, content = ask(server, f"/{path}")
    _, asked = ask(server, f"/-preview/panel?at={path}&good=")
    if b"data-mark" in content:
        mark = content.partition(b'data-mark="')[2].partition(b'"')[0]
        assert b'data-mark="' + mark + b'"' in asked


def test_a_stream_tells_each_change_and_ends_with_the_server() -> None:
    """Whoever listens hears of the next number at once, and is let go at the end."""
    board = Board()
    with Server(board) as server:
        thread = threading.Thread(target=server.serve_forever, args=(0.01,))
        thread.start()
        connection = HTTPConnection(LOOPBACK, server.server_port, timeout=60)
        connection.request("GET", "/-preview/events?after=0")
        answer = connection.getresponse()
        assert answer.headers["Content-Type"] == "text/event-stream"
        heard = []
        for number in (1, 2):
            assert board.show(Shown(SOME, working=False)).number == number
            while not (line := answer.readline()).startswith(b"data:"):
                pass
            heard.append(line)
        assert heard == [b"data: 1\n", b"data: 2\n"]
        server.end()
        answer.read()
        thread.join()
        connection.close()


def test_a_port_in_use_is_wrong_use(server: Server) -> None:
    """Who asks for a port that is taken is told."""
    with pytest.raises(WrongUse, match=str(server.server_port)), Server(Board(), server.server_port):
        pass


def test_no_more_connections_are_held_than_may_be(server: Server) -> None:
    """One more than may be open is closed unanswered; once one of them goes, the next is answered."""
    server.connections = threading.BoundedSemaphore(2)  # for good: threads give back what they took
    held = [socket.create_connection((LOOPBACK, server.server_port), timeout=60) for _ in range(2)]
    for one in held:
        one.sendall(b"GET / HT")
    with socket.create_connection((LOOPBACK, server.server_port), timeout=60) as third:
        assert third.recv(100) == b""
    held[0].close()
    for _ in range(600):
        with suppress(ConnectionError, RemoteDisconnected):
            answer, _ = ask(server, "/")
            break
        sleep(0.05)
    assert answer.status == HTTPStatus.OK
    held[1].close()
