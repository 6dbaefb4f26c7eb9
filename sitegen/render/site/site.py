"""Build the site: finished pages into the frame of the mkdocs-material theme.

The only module that knows mkdocs. Every page is handed over as finished HTML, so no
Markdown is parsed and no navigation is worked out there; what mkdocs adds is the frame,
the theme's files and the search index.

The theme's base template is not extended: our own frame uses its style sheet alone, and searches the
index by a script of ours, which puts codes and the names of pages first. What leaving the theme would
cost: ``docs/leaving-mkdocs.md``.
"""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterable, Iterator, Mapping
from copy import copy
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, cast

from jinja2 import Environment
from material.plugins.search.plugin import SearchPlugin
from mkdocs.commands.build import build, get_context
from mkdocs.config.base import Config
from mkdocs.config.defaults import MkDocsConfig
from mkdocs.exceptions import MkDocsException
from mkdocs.plugins import BasePlugin
from mkdocs.structure.files import File, Files, InclusionLevel
from mkdocs.structure.nav import Navigation
from mkdocs.structure.pages import Page as MkdocsPage

from sitegen.findings.problems import OutputFault
from sitegen.kept import InVoice, template_cache
from sitegen.render.policy import policy
from sitegen.render.site.assets import SITE_TEMPLATES, colour_css, is_needed, theme_stylesheet
from sitegen.render.site.html import FinishedPage, finished_pages
from sitegen.render.site.paths import checked_file
from sitegen.report.record.pages import Report
from sitegen.voice import Voice, script_worded, voice, worded

Progress = Callable[[int, int], None]
"""Called after each step with the steps done and all steps; a page takes two, made and written."""

_THEME_FOLDERS = ("assets/", "search/", "ui/")
_SCRIPTS = "ui/"
_COLOURS = "ui/colours.css"


def write_site(report: Report, out: Path, files: Mapping[str, bytes], progress: Progress | None = None) -> None:
    """Write the site of a report into the empty folder ``out``.

    ``files`` holds further files by their path below ``out`` (photographs, the map,
    downloads); pages link to them where they exist. Raises ``OutputFault`` if the folder
    is not empty, a file would leave it, or two things would share a name.
    """
    _check_place(out, files)
    steps = _Steps(2 * len(report.pages), progress)
    pages = tuple(steps.count(finished_pages(report, sorted(files))))
    _build(_config(pages, out, steps))
    for path, content in files.items():
        target = out / path
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(content)


def _check_place(out: Path, files: Iterable[str]) -> None:
    if out.exists() and any(out.iterdir()):
        raise OutputFault(f"the output folder {out.name!r} is not empty")
    for path in files:
        if checked_file(path).casefold().startswith(_THEME_FOLDERS):
            raise OutputFault(f"{path!r} would stand in a folder of the site's own files")


class Frame:
    """The frame around pages, loaded once, for who wants pages one at a time and in memory.

    ``files`` holds the theme's files and ours by their path on the site. What is made equals, byte
    for byte, what :func:`write_site` writes.
    """

    def __init__(self) -> None:
        with TemporaryDirectory(prefix="sitegen-") as place:
            site = Path(place).resolve() / "site"
            self._config = _config((), site, _Steps(0, None))
            _build(self._config)
            found = {path.relative_to(site).as_posix(): path for path in sorted(site.rglob("*")) if path.is_file()}
            self.files = {name: path.read_bytes() for name, path in found.items() if not name.startswith("search/")}
        self._envs: dict[Voice, Environment] = {}

    def page(self, made: FinishedPage) -> bytes:
        """Return a page in its frame."""
        page = _virtual_file(made, self._config).page
        context = get_context(Navigation([], []), [], self._config, page)
        return self._env().get_template("main.html").render(context).encode("utf-8", errors="xmlcharrefreplace")

    def _env(self) -> Environment:
        """Return the theme's environment in the voice that speaks, which may change from one reading to the next."""
        if voice() not in self._envs:
            theme = cast("_Pages", self._config.plugins["sitegen"]).env
            self._envs[voice()] = theme.overlay(bytecode_cache=template_cache("theme"), cache_size=50)
        return self._envs[voice()]

    def search_files(self, pages: Iterable[FinishedPage]) -> dict[str, bytes]:
        """Return the search index of the pages, as data and as a script."""
        index = copy(_search(self._config).search_index)
        index.entries = _entries(pages)
        data = index.generate_search_index(None).encode("utf-8")
        return {"search/search_index.json": data, "search/search_index.js": b"var __index = " + data}


def _build(config: MkDocsConfig) -> None:
    try:
        build(config)
    except MkDocsException as error:
        raise OutputFault(f"the site can't be built: {error}") from error


def _search(config: MkDocsConfig) -> SearchPlugin:
    return cast("SearchPlugin", config.plugins["material/search"])


def _entries(pages: Iterable[FinishedPage]) -> list[dict[str, str]]:
    return [entry._asdict() for page in pages for entry in page.search]


class _Steps:
    """Counts the steps of a build and says how far it is."""

    def __init__(self, total: int, progress: Progress | None) -> None:
        self.done = 0
        self.total = total
        self.progress = progress

    def step(self) -> None:
        self.done += 1
        if self.progress is not None:
            self.progress(self.done, self.total)

    def count(self, pages: Iterable[FinishedPage]) -> Iterator[FinishedPage]:
        for page in pages:
            yield page
            self.step()


def _config(pages: tuple[FinishedPage, ...], out: Path, steps: _Steps) -> MkDocsConfig:
    config = MkDocsConfig()
    config.load_dict(
        {
            "site_name": "Report",
            "docs_dir": str(SITE_TEMPLATES / "static"),
            "site_dir": str(out.resolve()),
            "use_directory_urls": False,
            "strict": True,
            "nav": [],
            "theme": {
                "name": "material",
                "custom_dir": str(SITE_TEMPLATES / "theme"),
                "language": "en",
                "font": False,
                "features": [],
            },
            "plugins": ["material/search", "material/offline"],
        }
    )
    errors, warnings = config.validate()
    if errors or warnings:
        raise OutputFault(f"the site's settings are not accepted: {[*errors, *warnings]}")
    config.plugins["sitegen"] = _Pages(pages, steps)
    return config


class _NoSettings(Config):  # type: ignore[no-untyped-call]
    """The plugin below is made in code and takes no settings."""


class _Pages(BasePlugin[_NoSettings]):  # type: ignore[no-untyped-call]
    """Hands the finished pages to mkdocs and fills the search index."""

    def __init__(self, pages: tuple[FinishedPage, ...], steps: _Steps) -> None:
        self.pages = pages
        self.steps = steps
        self.env = Environment()  # noqa: S701 - never used: the theme's takes its place

    def on_config(self, config: MkDocsConfig) -> None:
        """Write no page but ours: no site map (it carries dates), no error page."""
        config.theme.static_templates.clear()

    def on_files(self, files: Files, *, config: MkDocsConfig) -> Files:
        """Drop what is not needed from the theme and add our pages."""
        for file in list(files):
            if not is_needed(file.src_uri):
                files.remove(file)
            elif file.src_uri.startswith(_SCRIPTS) and file.src_uri.endswith(".js"):
                files.remove(file)
                content = script_worded(file.content_string)
                files.append(File.generated(config, file.src_uri, content=content))
        files.append(File.generated(config, _COLOURS, content=colour_css()))
        config.extra["theme_stylesheet"] = theme_stylesheet(file.src_uri for file in files)
        for page in self.pages:
            files.append(_virtual_file(page, config))
        return files

    def on_pre_build(self, *, config: MkDocsConfig) -> None:
        """Put our entries into the search index, in the order of the pages."""
        _search(config).search_index.entries.extend(_entries(self.pages))

    def on_env(self, env: Environment, *, config: MkDocsConfig, files: Files) -> Environment:  # noqa: ARG002 - as above
        """Keep the theme's compiled templates, and let the frame write its policy."""
        env.filters["policy"] = policy
        env.globals["worded"] = worded
        env.globals["language"] = lambda: voice().language
        env.add_extension(InVoice)
        env.bytecode_cache = template_cache("theme")
        self.env = env
        return env

    def on_post_page(self, output: str, **_: Any) -> str:  # noqa: ANN401 - mkdocs passes more
        """Report progress."""
        self.steps.step()
        return output


class _VirtualPage(MkdocsPage):
    """A page whose HTML is ready: nothing is read and nothing rendered."""

    def read_source(self, config: MkDocsConfig) -> None:  # noqa: ARG002 - mkdocs' signature
        """Say that there is no Markdown."""
        self.markdown = ""

    def render(self, config: MkDocsConfig, files: Files) -> None:  # noqa: ARG002 - mkdocs' signature
        """Leave the content empty: the frame takes the page's HTML from ``meta``."""
        self.content = ""


def _virtual_file(made: FinishedPage, config: MkDocsConfig) -> File:
    name = made.url.removesuffix(".html")
    file = File.generated(config, f"{name}.md", content="", inclusion=InclusionLevel.NOT_IN_NAV)
    file.dest_uri = made.url
    page = _VirtualPage(made.head_title, file, config)
    page.meta = {"made": made, "search": {"exclude": True}}
    return file


# What mkdocs has to say reaches us as an exception (strict), never the terminal.
logging.getLogger("mkdocs").addHandler(logging.NullHandler())
