"""Kill builds and archives at moments drawn by a seed, and count damaged outputs.

Each run is a process of its own, ended by SIGKILL: at any moment of its time, or within
30 ms of the moment when its output is ready to be swapped in. The inputs alternate
between two revisions of a small survey, so that a mixture of two outputs shows. After
each kill the output must be one of the two, whole, and the inputs must be untouched.

    python benchmarks/kills.py [--kills 200] [--seed 1]
"""

from __future__ import annotations

import argparse
import os
import random
import shutil
import signal
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

from small_survey import small_survey  # noqa: E402

from sitegen.archive.make import archive  # noqa: E402
from sitegen.pipeline import build  # noqa: E402
from sitegen.render.place.fixity import fixities_below, tree_digest  # noqa: E402

READY = {"build": "*/new/build.json", "archive": "*/*/tagmanifest-sha512.txt"}
"""What stands in a scratch folder once the output is complete."""
NEAR_S = 0.03


def started(work: Callable[[], object]) -> int:
    """Run ``work`` in a process of its own, in a group of its own; return its id."""
    child = os.fork()
    if child:
        return child
    os.setsid()
    code = 1
    try:
        work()
        code = 0
    finally:
        os._exit(code)


def ended(child: int) -> bool:
    """Wait for a process; tell whether it ended well by itself."""
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 0


def require(holds: bool, what: str) -> None:
    """Stop the benchmark where what it stands on does not hold."""
    if not holds:
        raise SystemExit(f"not as it must be: {what}")


def state(out: Path) -> str:
    """Return the digest of every finished output in a folder, what lies aside left out."""
    return tree_digest({n: f for n, f in fixities_below(out).items() if not n.startswith(".")})


def inputs(folders: list[Path]) -> list[str]:
    """Return the digest of each input folder."""
    return [tree_digest(fixities_below(folder)) for folder in folders]


def outputs(out: Path) -> dict[str, str]:
    """Return the digest of each output by its name."""
    return {path.name: state(path) for path in sorted(out.iterdir()) if not path.name.startswith(".")}


class Trial:
    """One kind of work, its two inputs, and what it gives when nobody disturbs it."""

    def __init__(self, kind: str, folders: list[Path], out: Path) -> None:
        self.kind = kind
        self.folders = folders
        self.out = out
        self.tally: Counter[str] = Counter()
        out.mkdir()
        self.good: list[dict[str, str]] = []
        begun = time.monotonic()
        for number in (0, 1):
            require(ended(started(self.work(number))), f"an undisturbed {kind} ends well")
            self.good.append(outputs(out))
        self.seconds = (time.monotonic() - begun) / 2
        differ = all(self.good[0][name] != self.good[1][name] for name in self.good[0])
        require(differ, "the two revisions give different outputs")

    def work(self, number: int) -> Callable[[], object]:
        """Return the work on one of the two inputs."""
        folder = self.folders[number]
        if self.kind == "build":
            return lambda: build(folder, self.out / "report")
        return lambda: archive(folder, self.out)

    def kill_once(self, rng: random.Random, number: int) -> None:
        """Start, kill, look."""
        near, whole_group = rng.random() < 0.4, rng.random() < 0.5
        child = started(self.work(number))
        if near:
            self._await_ready(child)
            time.sleep(rng.random() * NEAR_S)
        else:
            time.sleep(rng.random() * self.seconds)
        (os.killpg if whole_group else os.kill)(child, signal.SIGKILL)
        if ended(child):
            self.tally["ended before the kill"] += 1
            return
        self.tally["killed near the swap" if near else "killed at any moment"] += 1
        self.look()

    def _await_ready(self, child: int) -> None:
        """Wait until a new output is complete, or the process is gone."""
        limit = time.monotonic() + 10 * self.seconds
        seen = set(self.out.glob(f".{READY[self.kind]}"))
        while time.monotonic() < limit and not set(self.out.glob(f".{READY[self.kind]}")) - seen:
            if os.waitid(os.P_PID, child, os.WEXITED | os.WNOHANG | os.WNOWAIT):
                return
            time.sleep(0.002)

    def look(self) -> None:
        """Count whether every output is there and is, whole, that of one of the two inputs."""
        found = outputs(self.out)
        whole = found.keys() == self.good[0].keys()
        for name, digest in found.items():
            whole = whole and digest in (self.good[0].get(name), self.good[1].get(name))
        self.tally["whole" if whole else "DAMAGED"] += 1
        new = found == self.good[1] or found == self.good[0]
        self.tally["pairs of one revision" if new else "main and private of two revisions"] += 1

    def tidy(self) -> list[str]:
        """Run once undisturbed and return what is left aside."""
        time.sleep(2 * self.seconds)
        require(ended(started(self.work(0))), "a run after the kills ends well")
        require(outputs(self.out) == self.good[0], "a run after the kills gives the whole output")
        return [path.name for path in self.out.iterdir() if path.name.startswith(".")]


def surveys(folder: Path) -> list[Path]:
    """Write the two revisions of the small survey."""
    first = small_survey(ROOT / "example_project", folder / "first")
    second = folder / "second"
    shutil.copytree(first, second)
    for name in ("project.toml", "private/contacts.csv"):
        text = (second / name).read_text("utf-8")
        changed = text.replace("(invented example)", "(second)").replace("555-0142", "555-0143")
        (second / name).write_text(changed, "utf-8")
    return [first, second]


def main() -> int:
    """Run the trials and print the figures."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--kills", type=int, default=200)
    asked.add_argument("--seed", type=int, default=1)
    options = asked.parse_args()
    rng = random.Random(options.seed)  # noqa: S311 - moments, no secrets
    damaged = 0
    with tempfile.TemporaryDirectory(prefix="kills-") as name:
        folders = surveys(Path(name))
        before = inputs(folders)
        for kind in ("build", "archive"):
            trial = Trial(kind, folders, Path(name) / kind)
            number = 0
            while trial.tally["whole"] + trial.tally["DAMAGED"] < options.kills // 2:
                trial.kill_once(rng, number % 2)
                number += 1
            left = trial.tidy()
            print(f"{kind}: {trial.seconds:.1f} s undisturbed; {dict(sorted(trial.tally.items()))}; left aside {left}")
            damaged += trial.tally["DAMAGED"] + len(left)
        untouched = inputs(folders) == before
    print(f"inputs untouched: {untouched}; damaged outputs: {damaged}")
    return 0 if untouched and not damaged else 1


if __name__ == "__main__":
    sys.exit(main())
