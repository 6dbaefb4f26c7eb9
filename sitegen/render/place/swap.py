"""Write aside, then swap in: the last good output is whole at every moment.

New output is made in a scratch folder beside the old one. Only when it is complete does
it take the old one's place. Where the system can exchange two names in one step (Linux),
there is no moment without an output; elsewhere there are two renames, and a run that was
ended between them is put right by the next one.

Each run holds a lock on its scratch folder, which the system drops when the run ends,
however it ends. So two runs never touch each other's scratch, what a killed run left is
told from what is still in use, and of two runs at once the one that ends last prevails. Where
neither the system nor the disk knows such locks, a run writes down whose its scratch folder is, and
what nobody has written to for a day, by the disk's own clock, counts as left.
"""

from __future__ import annotations

import ctypes
import errno
import os
import shutil
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from platform import node
from tempfile import NamedTemporaryFile, mkdtemp

from sitegen.findings.problems import OutputFault, WrongUse, usable

if sys.platform != "win32":
    import fcntl

MARK = "build.json"
"""An output folder carries this file; a folder without it is never replaced."""

ABANDONED_S = 24 * 3600
"""Where there are no locks: seconds without a write after which a scratch folder is left. Project default."""

_OLD, _OWNER = "replaced", "owner.txt"
_NO_LOCKS = (errno.ENOLCK, errno.ENOSYS, errno.EOPNOTSUPP, errno.EINVAL)
_ATTEMPTS = 5
_AT_FDCWD = -100
_EXCHANGE = 2
"""Flags of renameat2, as in Linux's ``fcntl.h`` and ``fs.h`` (man page renameat2(2))."""


def refuse_bad_place(out: Path, source: Path, mark: str = MARK) -> None:
    """Raise WrongUse where ``out`` would harm the project folder or a folder that is not ours."""
    target, root = Path(os.path.realpath(out)), Path(os.path.realpath(source))
    if target == root or root.is_relative_to(target):
        raise WrongUse(f"the output folder {out} holds the project folder; name another with --out")
    if target.is_relative_to(root):
        raise WrongUse(f"the output folder {out} lies inside the project folder; name another with --out")
    with usable(out):
        _refuse_strangers(out, mark)


def _refuse_strangers(out: Path, mark: str) -> None:
    first = next(place for place in (out, *out.absolute().parents) if os.path.lexists(place))
    if not first.is_dir():
        raise WrongUse(f"{first} is {'a file' if first.exists() else 'a link that leads nowhere'}, not a folder")
    if out.is_dir() and any(out.iterdir()) and not (out / mark).is_file():
        raise WrongUse(f"{out} holds files that sitegen did not write; name an empty or new folder")


@contextmanager
def swap_in(out: Path, mark: str = MARK) -> Iterator[Path]:
    """Yield an empty folder to build in; it becomes ``out`` if nothing fails.

    Raises OutputFault where the file system refuses; ``out`` is then as it was.
    """
    with scratch_beside(out) as scratch:
        new = scratch / "new"
        new.mkdir()
        yield new
        put_in_place(new, out, mark)


@contextmanager
def scratch_beside(out: Path) -> Iterator[Path]:
    """Yield an empty folder on the same disk as ``out``, removed at the end with all it holds.

    Raises OutputFault where the file system refuses, be it here or in what is done within.
    """
    try:
        out.parent.mkdir(parents=True, exist_ok=True)
        clear_leftovers(out)
        scratch, lock = _locked_scratch(out)
        try:
            yield scratch
        finally:
            shutil.rmtree(scratch, ignore_errors=True)
            if lock is not None:
                os.close(lock)
    except OSError as error:
        reason = error.strerror or str(error)
        said = f"{out} could not be written: {reason}; what was there before is as it was"
        raise OutputFault(said) from error


def put_in_place(new: Path, out: Path, mark: str = MARK) -> None:
    """Give the finished ``new`` (inside a scratch folder) the name ``out``.

    A file replaces a file. A folder replaces an empty folder or one that carries ``mark``;
    anything else there raises WrongUse. The replaced folder is left in the scratch folder.
    """
    if new.is_file():
        new.replace(out)
        return
    _refuse_strangers(out, mark)
    if not out.exists():
        new.rename(out)
    elif not _exchanged(new, out):
        _renamed_twice(new, out)


def _exchanged(one: Path, other: Path) -> bool:
    """Exchange the names of two folders in one step; return False where the system can't."""
    if sys.platform != "linux":
        return False
    rename = getattr(ctypes.CDLL(None, use_errno=True), "renameat2", None)
    if rename is None:
        return False
    return bool(rename(_AT_FDCWD, os.fsencode(one), _AT_FDCWD, os.fsencode(other), _EXCHANGE) == 0)


def _renamed_twice(new: Path, out: Path) -> None:
    old = new.with_name(_OLD)
    out.rename(old)
    try:
        new.rename(out)
    except OSError:
        if not out.exists():
            old.rename(out)
        raise


class _NoLocksError(Exception):
    """The system or the disk knows no locks on folders."""


def _locked_scratch(out: Path) -> tuple[Path, int | None]:
    """Make a scratch folder and lock it; where there are no locks, write down whose it is."""
    for _ in range(_ATTEMPTS):
        scratch = Path(mkdtemp(prefix=f".{out.name}.new-", dir=out.parent))
        try:
            lock = _lock(scratch)
        except _NoLocksError:
            (scratch / _OWNER).write_text(f"process {os.getpid()} on {node()}\n", "utf-8")
            return scratch, None
        if lock is not None:
            return scratch, lock
        with suppress(FileNotFoundError):
            scratch.rmdir()
    raise OSError(errno.EBUSY, "other runs took each new folder beside it away")


def _lock(folder: Path) -> int | None:
    """Lock a folder; return the handle that holds it, or None where another run has it."""
    if sys.platform == "win32":
        raise _NoLocksError
    handle = None
    try:
        handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        if folder.stat().st_ino == os.fstat(handle).st_ino:
            return handle
    except OSError as error:
        if handle is not None and error.errno in _NO_LOCKS:
            os.close(handle)
            raise _NoLocksError from error
    if handle is not None:
        os.close(handle)
    return None


def clear_leftovers(out: Path) -> tuple[str, ...]:
    """Bring back an output that an interrupted run left aside, and remove what else it left; return its names."""
    cleared = []
    for left in sorted(out.parent.glob(f".{_literal(out.name)}.new-*")):
        with _taken(left) as taken:
            if not taken:
                continue
            if (left / _OLD).is_dir() and not out.exists():
                with suppress(OSError):
                    (left / _OLD).rename(out)
            shutil.rmtree(left, ignore_errors=True)
        if not left.exists():
            cleared.append(left.name)
    return tuple(cleared)


@contextmanager
def _taken(left: Path) -> Iterator[bool]:
    """Hold a scratch folder that a run left behind; yield whether nobody works in it."""
    try:
        lock = _lock(left)
    except _NoLocksError:
        yield _abandoned(left)
        return
    try:
        yield lock is not None
    finally:
        if lock is not None:
            os.close(lock)


def _abandoned(left: Path) -> bool:
    """Tell whether nothing was written in a scratch folder for a day."""
    try:
        with NamedTemporaryFile(dir=left.parent, prefix=".sitegen-now-") as now:
            written = max(path.stat().st_mtime for path in (left, *left.iterdir()))
            return os.fstat(now.fileno()).st_mtime - written > ABANDONED_S
    except OSError:
        return False


def _literal(name: str) -> str:
    """Return a name for use in a pattern, where brackets and stars would mean more."""
    return "".join(f"[{char}]" if char in "*?[" else char for char in name)
