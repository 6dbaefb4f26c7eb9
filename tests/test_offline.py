"""No network: neither what the program does nor what builds and installs it asks for an address or a connection.

Python tells its audit hooks of each. A connection that compiled code made by itself would not be seen.
"""

from __future__ import annotations

import ast
import os
import shutil
import subprocess
import sys
from collections.abc import Iterable
from pathlib import Path

import pytest
from small_survey import small_survey

ROOT = Path(__file__).resolve().parent.parent
HOOK = """
import os, sys

def tell(word, about):
    with open(os.environ["TOLD_IN"], "a", encoding="utf-8") as told:
        told.write(f"{word} {about!r}" + chr(10))

def hook(event, arguments):
    if event in ("socket.connect", "socket.bind", "socket.sendto", "socket.sendmsg", "urllib.Request") or (
        event.startswith("socket.get") and event != "socket.gethostname"
    ):
        tell(event, arguments)

tell("process", sys.orig_argv)
sys.addaudithook(hook)
"""
"""As ``sitecustomize`` it is run first by every Python process, those that a command starts as well."""

LOOK_UP = "import socket; socket.gethostbyname('127.0.0.1')"
LOCAL = "('::1', 0))"
"""What urllib3, imported by folium, binds to learn whether the machine knows IPv6: nothing is sent or listened to."""

NETWORK = {"asyncio", "ftplib", "http", "requests", "smtplib", "socket", "socketserver", "ssl", "urllib", "urllib3"}
HARMLESS = {"urllib.parse"}
LISTENS = {("server.py", "http"), ("server.py", "http.server"), ("server.py", "socket")}
"""The server of a preview listens on this machine's own address alone, which tests/preview/test_server.py holds."""
COMMANDS = {
    "check": ("-m", "sitegen", "check", "survey"),
    "new": ("-m", "sitegen", "new", "folder"),
    "archive": ("-m", "sitegen", "archive", "survey", "--out", "bags"),
    "verify": ("-m", "sitegen", "verify", "bags/KD-2025-01-r1"),
    "build of the distributions": ("-m", "build", "--no-isolation", "--outdir", "dist", "tree"),
}


def asked(place: Path, *command: str) -> tuple[list[str], list[str]]:
    """Run Python in a folder; return the processes that it came to, and what they asked of the network."""
    (place / "hook").mkdir(exist_ok=True)
    (place / "hook/sitecustomize.py").write_text(HOOK, "utf-8")
    told = place / "told.txt"
    told.unlink(missing_ok=True)
    paths = os.pathsep.join([str(place / "hook"), str(ROOT)])
    done = subprocess.run(
        [sys.executable, *command], cwd=place, capture_output=True, text=True, encoding="utf-8", errors="replace",
        env=os.environ | {"PYTHONPATH": paths, "TOLD_IN": str(told)}, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout + done.stderr
    lines = told.read_text("utf-8").splitlines()
    requests = [line for line in lines if not line.startswith("process ")]
    sent = [line for line in requests if not (line.startswith("socket.bind ") and line.endswith(LOCAL))]
    return [line for line in lines if line.startswith("process ")], sent


@pytest.fixture(scope="module")
def place(example: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder with a small survey, which asks for a copy for comments too, and a copy of the tree."""
    folder = tmp_path_factory.mktemp("offline")
    toml = small_survey(example, folder / "survey") / "project.toml"
    toml.write_text(toml.read_text("utf-8").replace("[publish]\n", "[publish]\nnarrative_docx = true\n"), "utf-8")
    left_out = shutil.ignore_patterns(".*", "*.egg-info", "__pycache__", "tests", "benchmarks", "build", "out")
    shutil.copytree(ROOT, folder / "tree", ignore=left_out)
    return folder


@pytest.mark.parametrize("command", ["check", "new"])
def test_a_quick_command_asks_nothing_of_the_network(command: str, place: Path) -> None:
    """Reading, computing and checking a survey, and writing a new folder."""
    processes, requests = asked(place, *COMMANDS[command])
    assert (len(processes), requests) == (1, [])


@pytest.mark.long
def test_nothing_asks_anything_of_the_network(place: Path) -> None:
    """An archive with its two builds, its proof with a third, and the distributions with their build backend."""
    for command, least in (("archive", 2), ("verify", 1), ("build of the distributions", 3)):
        processes, requests = asked(place, *COMMANDS[command])
        assert len(processes) >= least, command
        assert requests == [], command
    assert (place / "bags/KD-2025-01-r1/data/site/downloads/narrative.docx").is_file()
    assert len(list((place / "dist").iterdir())) == 2


@pytest.mark.parametrize(
    "code",
    [
        "import socket; socket.getaddrinfo('127.0.0.1', 9)",
        "import socket; socket.socket().connect_ex(('127.0.0.1', 9))",
        "import socket; socket.socket(type=socket.SOCK_DGRAM).sendto(b'', ('127.0.0.1', 9))",
        f"import subprocess; subprocess.run([{sys.executable!r}, '-c', {LOOK_UP!r}])",
    ],
)
def test_what_asks_is_seen(code: str, tmp_path: Path) -> None:
    """A connection, a message and a look-up are told, of a process that another one starts as well."""
    assert len(asked(tmp_path, "-c", code)[1]) == 1


def imported(tree: ast.AST) -> Iterable[str]:
    """Yield the modules that a file imports, anywhere in it."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            yield node.module


def test_no_module_of_the_program_imports_one_of_the_network() -> None:
    """Nor does what builds it; only the parts of an address are taken from ``urllib.parse``.

    The one exception is the server of a preview.
    """
    modules = [ROOT / "setup.py", *sorted((ROOT / "sitegen").rglob("*.py"))]
    assert len(modules) > 100
    names = {(path.name, name) for path in modules for name in imported(ast.parse(path.read_text("utf-8")))}
    found = {(at, name) for at, name in names if name.partition(".")[0] in NETWORK and name not in HARMLESS}
    assert len([path for path in modules if path.name == "server.py"]) == 1
    assert found == LISTENS


def test_nothing_else_runs_when_the_program_is_built() -> None:
    """The build backend is setuptools alone; beside ``setup.py`` no file of the tree is named to run."""
    project = (ROOT / "pyproject.toml").read_text("utf-8")
    assert 'requires = ["setuptools>=77"]\nbuild-backend = "setuptools.build_meta"\n' in project
    assert "backend-path" not in project
    assert "cmdclass" not in (ROOT / "setup.py").read_text("utf-8")
