"""The pages and files of one report in memory, each made when it is asked for, and by its exact path alone.

Nobody looks at two hundred pages after each change, so only those asked for are rendered. What is served
is looked up in a list that the report gives; no path of the disk is ever made of an address, so none leads out.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from threading import RLock

from sitegen.pipeline import own_map_files, own_stylesheet, picture, pictured, scanned
from sitegen.preview.build import Model
from sitegen.project.voices import voice_of
from sitegen.render.data.downloads import PRINTED, listed_files
from sitegen.render.map.webmap import map_names
from sitegen.render.site.html import STYLESHEET, Finisher
from sitegen.render.site.site import Frame
from sitegen.voice import script_worded, speaking

SEARCH = ("search/search_index.json", "search/search_index.js")


class Pages:
    """What can be asked for of a model: pages in their frame, pictures, map, search, and the theme's files."""

    def __init__(self, model: Model, frame: Frame, index: Pages | None = None) -> None:
        """Make the list; ``index`` are pages whose search index serves until the whole is made."""
        self._model, self._frame = model, frame
        self._voice = voice_of(model.snapshot)
        self.later = frozenset({*listed_files(model.report), PRINTED})
        makers = self._makers()
        with speaking(self._voice):
            self._finisher = Finisher(model.report, sorted({*makers, *self.later}))
        self.urls = frozenset(self._finisher.urls)
        self._makers_by_path: dict[str, Callable[[], bytes]] = {url: partial(self._page, url) for url in self.urls}
        self._makers_by_path |= makers | {name: partial(self._searched, name) for name in SEARCH}
        self._index = index
        self._made: dict[str, bytes] = {}
        self._lock = RLock()

    def get(self, path: str) -> bytes | None:
        """Return what stands at a path of the site, None where nothing does."""
        if path in self._frame.files:
            content = self._frame.files[path]
            if not path.endswith(".js"):
                return content
            with speaking(self._voice):
                return script_worded(content.decode()).encode()
        make = self._makers_by_path.get(path)
        if make is None:
            return None
        with self._lock, speaking(self._voice):
            if path not in self._made:
                self._made[path] = make()
            return self._made[path]

    def _makers(self) -> dict[str, Callable[[], bytes]]:
        """Return how each file beside the pages is made."""
        survey, report = self._model.survey, self._model.report
        makers: dict[str, Callable[[], bytes]] = {
            name: partial(picture, survey, file) for name, file in pictured(self._model.made).items()
        }
        scans = scanned(self._model.made, survey)
        makers |= {name: partial(scans.__getitem__, name) for name in scans}
        makers |= {name: partial(self._of_map, name) for name in map_names(report.map)}
        makers |= {STYLESHEET: partial(self._look, STYLESHEET)} if report.meta.look.stylesheet else {}
        return makers

    def _page(self, url: str) -> bytes:
        return self._frame.page(self._finisher.page(url))

    def _of_map(self, name: str) -> bytes:
        self._made |= own_map_files(self._model.report, self._model.survey)
        return self._made[name]

    def _look(self, name: str) -> bytes:
        return own_stylesheet(self._model.report, self._model.survey)[name]

    def _searched(self, name: str) -> bytes:
        found = self._index.get(name) if self._index else None
        if found is not None:
            return found
        self._made |= self._frame.search_files(map(self._finisher.page, self._finisher.urls))
        return self._made[name]
