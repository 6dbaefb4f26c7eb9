"""Make the reference of the handbook from the program, as mkdocs asks for it.

Docstrings, columns of frames, the catalogue of checks and the command line are taken from the
program itself, so that no page can say of them what is not so. Each part is put below what its
page says by hand.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from pathlib import Path

import typer
from docstrings import entry, markdown
from mkdocs.config.defaults import MkDocsConfig
from mkdocs.structure.files import File, Files
from mkdocs.structure.pages import Page

import sitegen
from sitegen.checks.catalogue import SUBJECTS, catalogue, find
from sitegen.cli import app, template_folder
from sitegen.findings.problems import Finding, OutputFault, Severity, SitegenError, Stopped, Touch, Where, WrongUse
from sitegen.library import Drawing, Survey
from sitegen.pipeline import Built
from sitegen.project.delivery.rows import Pick, Spot
from sitegen.project.guide import columns_guide
from sitegen.project.survey import Survey as Record
from sitegen.project.survey import SurveyTable
from sitegen.report.record import pages
from sitegen.report.write.context import Context

EXAMPLE = Path(__file__).resolve().parents[2] / "example_project"
SITE_MAP = "sitemap.xml"
WORKER = "ui/iframe-worker.js"
"""What makes the search run in a page that is opened as a file."""

LIBRARY = {"sitegen.read": sitegen.read, "Survey": Survey, "Drawing": Drawing, "Built": Built}
ERRORS = (SitegenError, Stopped, WrongUse, OutputFault)
FRAMES = {
    "findings": "check",
    "results": "results",
    "points": "points",
    "exposures": "exposures",
    "compounds": "compounds",
}
"""Frames by the name under which their columns are told, with the member that gives each."""
BLOCKS = (
    pages.Page, pages.Ref, pages.Section, pages.Prose, pages.Table, pages.Column, pages.Cell, pages.Mark, pages.Source,
    pages.Figure, pages.Photo, pages.Quote, pages.Facts, pages.Tiles, pages.Tile, pages.Callout, pages.MapFrame,
)  # fmt: skip
PLUGINS = (find, Finding, Where, Severity, Touch, Record, SurveyTable, Context, *BLOCKS, Pick, Spot)


def on_config(config: MkDocsConfig) -> None:
    """Make no site map: it carries the day."""
    config.theme.static_templates.discard(SITE_MAP)


def on_files(files: Files, *, config: MkDocsConfig) -> None:
    """Add what the program has for its own sites and says of the project folder; leave the theme's site map out."""
    for file in [file for file in files if file.src_uri == SITE_MAP]:
        files.remove(file)
    files.append(File.generated(config, WORKER, abs_src_path=str(Path(__file__).with_name("iframe-worker.js"))))
    guide = (template_folder() / "README.md").read_text("utf-8")
    for name, text in (("folder", guide), ("COLUMNS", columns_guide())):
        files.append(File.generated(config, f"reference/{name}.md", content=text))


def on_page_markdown(text: str, *, page: Page, config: MkDocsConfig, files: Files) -> str:  # noqa: ARG001 - theirs
    """Put what is made from the program below what a page says by hand."""
    make = REFERENCE.get(page.file.src_uri)
    return "\n".join([text, *make()]) if make else text


def library() -> Iterator[str]:
    """Yield the lines on what a notebook or a script calls."""
    for name, of in LIBRARY.items():
        yield from entry(name, of)
    yield "## Errors\n"
    for error in ERRORS:
        yield from entry(error.__name__, error, 3)


def frames() -> Iterator[str]:
    """Yield the lines on the columns of each frame, as the example has them."""
    survey = sitegen.read(EXAMPLE)
    for name, member in FRAMES.items():
        frame = survey.check() if member == "check" else getattr(survey, member)
        yield f"## `{name}` {{#{name}}}\n"
        yield f"{markdown(vars(Survey)[member].__doc__)}\n"
        yield "| column | type | unit | meaning |\n| --- | --- | --- | --- |"
        for column, (unit, meaning) in survey.columns(name).iterrows():
            yield f"| `{column}` | {frame[column].dtype} | {unit} | {_cell(meaning)} |"
        yield ""


def plugin_records() -> Iterator[str]:
    """Yield the lines on what a plug-in takes and gives, under the module of each."""
    module = ""
    for of in PLUGINS:
        if of.__module__ != module:
            module = of.__module__
            yield f"## {module}\n"
        yield from entry(of.__name__, of, 3)


_FROM = {"planned": "", "in_field": "<br>from the first placing", "returned": "<br>from the return"}
"""From which stage of a survey on a check applies, where that is not from the start."""


def checks() -> Iterator[str]:
    """Yield the lines on every check of the program."""
    for subject in SUBJECTS:
        yield f"## {subject.capitalize()}\n"
        yield "| check | rule | what to do |\n| --- | --- | --- |"
        for check in catalogue().values():
            if check.subject == subject:
                severity = check.severity.value + "\\*" * check.varies
                severity += _FROM[check.from_stage]
                yield f"| `{check.code}`<br>{severity} | {_cell(check.rule)} | {_cell(check.do)} |"
        yield ""


def commands() -> Iterator[str]:
    """Yield the lines on every command, from the command line itself."""
    for name, command in typer.main.get_command(app).commands.items():  # type: ignore[attr-defined]
        arguments = [_shown(one) for one in command.params if one.param_type_name == "argument"]
        yield f"## `sitegen {name}` {{#{name}}}\n"
        yield f"```console\n$ sitegen {' '.join([name, *arguments])}\n```\n"
        yield f"{command.help}\n"
        yield "| argument or option | meaning |\n| --- | --- |"
        yield from (f"| `{_shown(one)}` | {_cell(one.help)} |" for one in command.params)
        yield ""


def _shown(one: typer.core.TyperArgument | typer.core.TyperOption) -> str:
    """Return how an argument or an option is written on the command line."""
    return str(one.name).upper() if one.param_type_name == "argument" else ", ".join([*one.opts, *one.secondary_opts])


def _cell(text: str) -> str:
    """Return a text for a cell of a table of Markdown."""
    return markdown(text).replace("|", "\\|")


REFERENCE: Mapping[str, Callable[[], Iterator[str]]] = {
    "reference/commands.md": commands,
    "reference/library.md": library,
    "reference/frames.md": frames,
    "reference/plugins.md": plugin_records,
    "reference/checks.md": checks,
}
