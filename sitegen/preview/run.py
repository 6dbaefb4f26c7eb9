"""A preview from its start to its end: watch the folder, make what is on show, serve it.

Two threads make: one shows changed sentences at once, the other makes the whole after each change, so that
a large survey's sentences don't wait for its sixty thousand results. Nothing is written: the pages are in memory.
"""

from __future__ import annotations

import gc
import signal
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from time import sleep

from sitegen.checking import Checked
from sitegen.findings.problems import OutputFault, Stopped, WrongUse, usable
from sitegen.plugins import plugins
from sitegen.preview.board import Board, Shown
from sitegen.preview.build import Model, check_again, read_steady, same, whole, with_new_texts
from sitegen.preview.pages import Pages
from sitegen.preview.server import Server
from sitegen.preview.watch import QUIET_S, wait_quiet, watching
from sitegen.project.folder import Folder
from sitegen.project.schema import SETTINGS_FILE
from sitegen.render.site.site import Frame

ENDS = ("SIGINT", "SIGTERM", "SIGHUP")
"""Signals that end a preview: from the keyboard, from another program, and as the terminal closes."""
POLL_S = 0.1
REST_S = 30.0
"""After so long without a change, what earlier reports left in memory is looked for: meanwhile nothing is served."""
MOST_UNTIDY = 3
"""So many reports may leave something before it is looked for without a rest: 30 MB each for the example."""
HEAD_START_S = 0.2
"""How long the whole waits for the browser to load a sentence that is there: both want the same interpreter."""


class Maker:
    """Makes what is on show of a folder, and makes it anew after each change."""

    def __init__(self, folder: Path, board: Board) -> None:
        self.board = board
        self.changed = threading.Event()
        self._folder = folder
        self._frame = Frame()
        self._turn = threading.RLock()
        self._newer = threading.Event()
        self._newest: Folder | None = None
        self._base: tuple[Model, Pages] | None = None
        self._ended = False
        self._untidy = 0

    def start(self) -> None:
        """Read the folder a first time and start both threads; raises WrongUse where there is no folder."""
        self.look()
        for work in (self._follow, self._make):
            threading.Thread(target=work, daemon=True).start()

    def end(self) -> None:
        """Have both threads end, each after what it is at."""
        self._ended = True
        self.changed.set()
        self._newer.set()

    def look(self) -> None:
        """Read the folder; where it holds something else, show its sentences and have the whole made."""
        snapshot = read_steady(self._folder, lambda: sleep(QUIET_S))
        with self._turn:
            if same(self._newest, snapshot):
                return
            self._newest = snapshot
            self._show_sentences(snapshot)
        self._newer.set()

    def _follow(self) -> None:
        while not self._ended:
            wait_quiet(self.changed)
            try:
                if not self._ended:
                    self.look()
            except (WrongUse, OSError) as fault:
                self._trouble(f"The folder cannot be read: {fault}")

    def _make(self) -> None:
        while not self._ended:
            rests = not self._newer.wait(REST_S)
            if self._untidy > (0 if rests else MOST_UNTIDY):
                gc.collect()
                self._untidy = 0
            if not rests:
                sleep(HEAD_START_S)
                self._newer.clear()
                self._make_unless_ended()

    def _make_unless_ended(self) -> None:
        if not self._ended:
            self.make_whole()
            self._untidy += 1

    def make_whole(self) -> None:
        """Make the report of the newest reading whole and show it, or what keeps it from being made."""
        snapshot = self._newest
        if snapshot is None:
            return
        try:
            checked = check_again(self._folder, snapshot)
            self._show(snapshot, _findings(self.board.shown, checked))
            model = whole(snapshot, checked)
            made = model, Pages(model, self._frame)
        except Stopped:
            return
        except (WrongUse, OutputFault) as fault:
            self._trouble(str(fault), snapshot)
        except Exception as fault:  # noqa: BLE001 - told on the page; the next change may be without it
            self._trouble(f"{type(fault).__name__}: a program error, not an error in the record.", snapshot)
        else:
            with self._turn:
                self._base = made
                if self._newest is not snapshot and self._newest is not None:
                    self._show_sentences(self._newest)
                self._show(snapshot, Shown(made[1], checked.findings, working=False))

    def _show_sentences(self, snapshot: Folder) -> None:
        """Show a reading beside the last whole report, where it differs from it in sentences alone."""
        shown = replace(self.board.shown, working=True)
        try:
            model = with_new_texts(self._base[0], snapshot) if self._base else None
            if self._base and model and not shown.stopped:
                shown = replace(shown, pages=Pages(model, self._frame, self._base[1]))
        except Exception:  # noqa: BLE001, S110 - a help only: the whole is made next, and tells what is wrong
            pass
        self.board.show(shown)

    def _trouble(self, words: str, snapshot: Folder | None = None) -> None:
        self._show(snapshot, replace(self.board.shown, trouble=words, working=False))

    def _show(self, snapshot: Folder | None, shown: Shown) -> None:
        """Show what a reading gave, unless there is a newer one."""
        with self._turn:
            if snapshot is None or snapshot is self._newest:
                self.board.show(shown)


def _findings(shown: Shown, checked: Checked) -> Shown:
    """Return what is on show with the findings of another reading, before its pages are made."""
    return replace(shown, findings=checked.findings, trouble="", working=not checked.stopped)


@contextmanager
def serving(folder: Path, port: int = 0) -> Iterator[Server]:
    """Serve the preview of a folder until the block ends; raises WrongUse for a bad folder or port."""
    plugins()  # one that can't be loaded is told before anything is read
    with usable(folder):
        if not folder.is_dir():
            raise WrongUse(f"{folder} is not a folder")
        if not (folder / SETTINGS_FILE).is_file():
            raise WrongUse(f"{folder} holds no {SETTINGS_FILE}; state the project folder")
    board = Board()
    with Server(board, port) as server:
        maker = Maker(folder, board)
        thread = threading.Thread(target=server.serve_forever, args=(POLL_S,), daemon=True)
        with watching(folder, maker.changed.set):
            maker.start()
            thread.start()
            try:
                yield server
            finally:
                server.end()
                thread.join()
                maker.end()


def preview(folder: Path, port: int, tell: Callable[[str, Shown | None], None]) -> None:
    """Serve the preview of a folder until a signal ends it.

    ``tell`` is called with the address, first alone and then with whatever is on show anew.
    """
    ended = threading.Event()
    with _ending(ended), serving(folder, port) as server:
        tell(server.url, None)
        number = 0
        while not ended.is_set():
            newer = server.board.newer(number, POLL_S)
            if newer:
                number = newer.number
                tell(server.url, newer)


@contextmanager
def _ending(ended: threading.Event) -> Iterator[None]:
    """Have each signal that ends a program set an event instead; one that the shell has it ignore stays ignored."""
    numbers = [getattr(signal, name) for name in ENDS if hasattr(signal, name)]
    heard = [number for number in numbers if signal.getsignal(number) is not signal.SIG_IGN]
    before = {number: signal.signal(number, lambda *_: ended.set()) for number in heard}
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
