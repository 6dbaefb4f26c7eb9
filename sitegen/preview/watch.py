"""Tells when something changes below a folder, by what the system reports or, where it can't, by looking.

What changed is not asked: the folder is read anew, and its content says it. The watcher is watchdog.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from threading import Event

from watchdog.events import FileSystemEvent, FileSystemEventHandler
from watchdog.observers import Observer
from watchdog.observers.api import BaseObserver
from watchdog.observers.polling import PollingObserver

WRITES = frozenset({"created", "modified", "moved", "deleted", "closed"})
"""Kinds of events after which a file may hold something else; opening and reading are none."""
QUIET_S = 0.05
"""After a change nothing more must come for so long, for an editor saves in several steps."""
MOST_QUIETS = 20
"""For how many such spans a folder that is never quiet is waited for."""
LOOK_S = 0.5
"""How often files are looked at where the system can't report changes."""


class _Told(FileSystemEventHandler):
    def __init__(self, tell: Callable[[], None]) -> None:
        self._tell = tell

    def on_any_event(self, event: FileSystemEvent) -> None:
        """Tell of a write."""
        if event.event_type in WRITES:
            self._tell()


@contextmanager
def watching(folder: Path, tell: Callable[[], None]) -> Iterator[None]:
    """Call ``tell`` from another thread after each change below a folder; links to folders are not followed."""
    observer = _started(Observer(), folder, tell) or _started(PollingObserver(timeout=LOOK_S), folder, tell)
    try:
        yield
    finally:
        if observer:
            observer.stop()
            observer.join()


def _started(observer: BaseObserver, folder: Path, tell: Callable[[], None]) -> BaseObserver | None:
    """Start an observer; None where the system has no more room for one."""
    try:
        observer.schedule(_Told(tell), str(folder.resolve()), recursive=True)
        observer.start()
    except OSError:
        return None
    return observer


def wait_quiet(changed: Event) -> None:
    """Wait until a change, and then until nothing changes for a moment."""
    changed.wait()
    for _ in range(MOST_QUIETS):
        changed.clear()
        if not changed.wait(QUIET_S):
            return
    changed.clear()
