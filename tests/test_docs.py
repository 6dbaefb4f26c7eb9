"""The handbook: it builds strictly and offline, its reference is whole, and what it shows is what the program does."""

from __future__ import annotations

import ast
import doctest
import re
import shutil
import subprocess
import sys
import tomllib
from functools import cache
from importlib.metadata import EntryPoint
from pathlib import Path

import pytest
import typer
from doc_pages import DOCS, LENIENT, ROOT, commands, differences, python_alone, steps
from small_survey import small_survey
from typer.testing import CliRunner

import sitegen
from sitegen.cli import app
from sitegen.findings import problems
from sitegen.library import Drawing, Survey
from sitegen.plugins import GROUPS
from tests.messy.hand_over import hand_over

PAGES = sorted(path.relative_to(DOCS).as_posix() for path in DOCS.rglob("*.md"))
BESIDE = ("README.md", "DEVELOPERS.md", "project_template/README.md", "example_project/README.md")
SHOWN = sorted(page for page in PAGES if steps((DOCS / page).read_text("utf-8")) and not page.startswith("reference/"))
LOADED = re.compile(
    r"<(?:link|script|img|iframe|source)\b[^>]*?(?:href|src)=[\"']?(?:https?:)?//[^>]*>|url\([\"']?https?:"
)
NAMED = re.compile(r'<h\d id="([^"]+)"')


def page(name: str) -> str:
    return (DOCS / name).read_text("utf-8")


def told_command() -> list[str]:
    """Return the words that the contributors' guide gives for building the handbook, behind the interpreter."""
    (told,) = re.findall(r"`\S*python (-m mkdocs build [^`]+)`", (ROOT / "DEVELOPERS.md").read_text("utf-8"))
    return told.split()


def built_in(out: Path) -> Path:
    """Build the handbook into a folder as the contributors' guide says, and return that."""
    command = [sys.executable, *told_command(), "--strict", "--site-dir", str(out)]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, encoding="utf-8", check=False)
    assert done.returncode == 0, done.stderr
    return out


@pytest.fixture(scope="module")
def handbook(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the handbook, built once."""
    return built_in(tmp_path_factory.mktemp("handbook") / "site")


def test_the_entry_points_that_are_shown_are_those_of_the_example_package() -> None:
    """What the page on extending writes into ``pyproject.toml`` leads to what ``tests/plugin_example`` has."""
    (block,) = re.findall(r"^```toml\n(.*?)^```", page("extending.md"), re.MULTILINE | re.DOTALL)
    shown = tomllib.loads(block)["project"]["entry-points"]
    assert sorted(shown) == sorted(GROUPS)
    for group, entries in shown.items():
        for name, value in entries.items():
            EntryPoint(name, value, group).load()


@cache
def names_on(built_page: Path) -> frozenset[str]:
    """Return the anchors of a page's headings."""
    return frozenset(NAMED.findall(built_page.read_text("utf-8")))


def test_the_handbook_loads_nothing_from_elsewhere(handbook: Path) -> None:
    """Every page of docs/ is built, and no page or style sheet asks the network for anything."""
    pages = sorted(handbook.rglob("*.html"))
    assert {path.relative_to(handbook).as_posix() for path in pages} >= {f"{name[:-3]}.html" for name in PAGES}
    for path in (*pages, *handbook.rglob("*.css")):
        assert LOADED.findall(path.read_text("utf-8")) == [], path.name


@pytest.mark.long
def test_the_handbook_is_the_same_when_built_again(handbook: Path, tmp_path: Path) -> None:
    """No page carries the time at which it was built."""
    again = built_in(tmp_path / "site")
    first, second = (
        {path.relative_to(root).as_posix(): path.read_bytes() for path in root.rglob("*") if path.is_file()}
        for root in (handbook, again)
    )
    assert len(first) > 20
    assert first == second


@pytest.mark.parametrize("of", [Survey, Drawing], ids=lambda of: of.__name__)
def test_every_public_name_of_a_class_is_in_the_reference(handbook: Path, of: type) -> None:
    """Whatever a survey or a drawing offers has a heading of its own, the fields of a record its call."""
    fields = set(getattr(of, "__dataclass_fields__", ()))
    public = [name for name in vars(of) if not name.startswith("_") and name not in fields]
    names = names_on(handbook / "reference/library.html")
    assert [name for name in public if f"{of.__name__}.{name}".lower() not in names] == []
    assert public


def test_what_a_script_begins_with_and_what_it_may_meet_is_in_the_reference(handbook: Path) -> None:
    """The functions of the package itself, and every error that is raised on purpose."""
    functions = [name for name, value in vars(sitegen).items() if getattr(value, "__module__", "") == "sitegen"]
    errors = [
        name for name, value in vars(problems).items() if isinstance(value, type) and issubclass(value, Exception)
    ]
    wanted = {f"sitegen.{name}" for name in functions} | {name.lower() for name in errors}
    assert wanted >= {"sitegen.read", "stopped"}
    assert wanted <= names_on(handbook / "reference/library.html")


def test_every_record_that_the_example_package_imports_is_in_the_reference(handbook: Path) -> None:
    """Who writes a plug-in as ``tests/plugin_example`` does finds each name that it takes from the program."""
    trees = [ast.parse(path.read_text("utf-8")) for path in (ROOT / "tests/plugin_example").glob("*.py")]
    nodes = [node for tree in trees for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)]
    taken = {name.name for node in nodes if (node.module or "").startswith("sitegen.") for name in node.names}
    assert len(taken) > 8
    text = (handbook / "reference/plugins.html").read_text("utf-8")
    assert sorted(name for name in taken if f"<code>{name}</code>" not in text) == []


def test_every_column_of_a_frame_is_in_the_reference(handbook: Path) -> None:
    """Each column that the example's frames have stands in a row of its own, below the name of the frame."""
    survey = sitegen.read(ROOT / "example_project")
    text = (handbook / "reference/frames.html").read_text("utf-8")
    for name in ("results", "points", "exposures", "compounds"):
        section = text.partition(f'id="{name}"')[2].partition("<h2")[0]
        told = re.findall(r"<tr>\s*<td><code>(\w+)</code>", section)
        assert told == [column for column in getattr(survey, name).columns if column != "geometry"]


def test_every_check_and_every_option_is_in_the_reference(handbook: Path) -> None:
    """The catalogue's codes, and each command with all that its own help names."""
    codes = tomllib.loads((ROOT / "sitegen/data/checks.toml").read_text("utf-8"))
    checks = (handbook / "reference/checks.html").read_text("utf-8")
    assert [code for code in codes if f"<code>{code}</code>" not in checks] == []
    text = (handbook / "reference/commands.html").read_text("utf-8")
    for command in typer.main.get_command(app).commands:  # type: ignore[attr-defined]
        section = text.partition(f'id="{command}"')[2].partition("<h2")[0]
        options = set(re.findall(r"--[a-z-]+", CliRunner().invoke(app, [command, "--help"]).output)) - {"--help"}
        assert [option for option in options if option not in section] == [], command


def unknown(words: list[str]) -> list[str]:
    """Return what a call names and the command line has not: the command, or options of it."""
    program = typer.main.get_command(app)
    known = program.commands  # type: ignore[attr-defined]
    with_value = {name for one in program.params if one.name == "details" for name in one.opts}
    first, *rest = words[2:] if words[0] in with_value else words
    if first in {"--version", "COMMAND"}:
        return []
    if first not in known:
        return [first]
    options = {"--help"} | {name for one in known[first].params for name in (*one.opts, *one.secondary_opts)}
    return [word for word in rest if word.startswith("-") and word not in options]


@pytest.mark.parametrize("path", [*(f"docs/{name}" for name in PAGES), *BESIDE])
def test_every_command_that_is_shown_is_there(path: str) -> None:
    """A command or an option that was renamed is shown by its new name."""
    assert [call for call in commands((ROOT / path).read_text("utf-8")) if unknown(call)] == []


@pytest.mark.parametrize("name", [name for name in PAGES if name.startswith(("tutorial/", "howto/"))])
def test_every_option_that_is_named_alone_is_there(name: str) -> None:
    """An option in a sentence is one of some command."""
    every = typer.main.get_command(app).commands.values()  # type: ignore[attr-defined]
    options = {option for command in every for one in command.params for option in (*one.opts, *one.secondary_opts)}
    assert set(re.findall(r"`(--[a-z-]+)`", page(name))) <= options


def test_a_command_that_is_not_there_is_told() -> None:
    """A wrong command and a wrong option are each found, wherever code shows them; words of a sentence are not."""
    text = (
        "sitegen reads. `sitegen chek F` or `sitegen build F --isue`.\n```console\n$ sitegen verify BAG --fast\n```\n"
    )
    assert [unknown(call) for call in commands(text)] == [["chek"], ["--isue"], ["--fast"]]


@pytest.mark.long
@pytest.mark.skipif(shutil.which("bash") is None, reason="without bash the commands of a page can't be tried")
@pytest.mark.parametrize("name", SHOWN)
def test_the_commands_of_a_page_print_what_it_says(name: str, tmp_path: Path) -> None:
    """Each page is followed from its first command to its last, with a survey of a few points as ``my_survey``."""
    place = tmp_path / "work"
    shutil.copytree(ROOT / "example_project", place / "example_project", ignore=shutil.ignore_patterns("__pycache__"))
    if name.startswith("howto/"):
        small_survey(ROOT / "example_project", place / "my_survey")
    if name == "howto/clean-folder.md":
        hand_over(place / "handed_over")
    assert list(differences(steps(page(name)), place)) == []


def test_a_command_that_prints_something_else_is_told(tmp_path: Path) -> None:
    """A page that says what a command does not print fails, and one that is right does not."""
    (tmp_path / "work").mkdir()
    text = "```console\n$ sitegen --version\nsitegen ...\n$ false || echo no\nno\n```\n"
    right, wrong = text, text.replace("...", "x")
    assert list(differences(steps(right), tmp_path / "work")) == []
    (told,) = differences(steps(wrong), tmp_path / "work")
    assert told.startswith("$ sitegen --version")
    assert list(differences(steps("```console\n$ exit 3\n```\n"), tmp_path / "work"))


def failures(text: str, name: str) -> str:
    """Run the Python of a page in the folder at hand, and return what doctest says of it: nothing where it is right."""
    told: list[str] = []
    runner = doctest.DocTestRunner(optionflags=LENIENT)
    runner.run(doctest.DocTestParser().get_doctest(python_alone(text), {}, name, name, 0), out=told.append)
    return "".join(told)


@pytest.mark.long
def test_the_python_of_the_tutorial_prints_what_it_says(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Read, look, plot and build, each line as it is shown."""
    shutil.copytree(ROOT / "example_project", tmp_path / "example_project")
    monkeypatch.chdir(tmp_path)
    text = page("tutorial/python.md")
    assert text.count(">>>") > 15
    assert failures(text, "tutorial/python.md") == ""


def test_python_that_prints_something_else_is_told() -> None:
    """A wrong line of a page is found, with its number."""
    text = "One.\n\n```python\n>>> 1 + 1\n3\n```\n"
    assert "line 4" in failures(text, "page")
    assert failures(text.replace("3", "2"), "page") == ""


def test_no_page_of_python_is_left_out() -> None:
    """Lines of Python that look as if they had been tried stand on the page that is tried, and nowhere else."""
    assert [name for name in PAGES if ">>>" in page(name)] == ["tutorial/python.md"]
