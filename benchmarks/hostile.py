"""Run every hostile input of the tests in a bounded process of its own, and count what came of them.

    python benchmarks/hostile.py [--kind values] [--name WORDS] [--sample 6] [--cpu 20] [--memory 1024]

Each input is the example folder with something hostile in it (``tests/hostile``). The table counts by
class; below it stands each input that was not answered as it must be, with the reason. With ``--json
FILE`` each verdict is written down. The exit code is 1 where one was answered wrongly.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Sequence
from pathlib import Path
from tempfile import TemporaryDirectory

ROOT = Path(__file__).parents[1]
for _folder in ("tests", "tests/hostile", "tests/project"):
    sys.path.insert(0, str(ROOT / _folder))

from hostile_case import CLASSES, Answer  # noqa: E402 - the tests' helpers are no package
from runner import Limits, Verdict, run_all  # noqa: E402
from suite import all_inputs, sample  # noqa: E402

COLUMNS = ("inputs", "aims", "refused", "told", "read", "built", "breakdowns", "over time", "over memory", "touched")
COUNTED = {
    "breakdowns": ("breakdown", "traceback"),
    "over time": ("over time",),
    "over memory": ("over memory",),
    "touched": ("touched", "left"),
}


def row(kind: str, verdicts: Sequence[Verdict]) -> list[str]:
    """Return the line of the table for a class: its counts, and the most that one run took."""
    done = [one for one in verdicts if not one.skipped]
    counts = [len(done), sum(one.input.aims for one in done)]
    counts += [
        sum(one.code in (1, 2) for one in done),
        sum(one.code == 0 and one.input.answer is Answer.TOLD for one in done),
        sum(one.code == 0 and one.input.answer is not Answer.TOLD and not one.built for one in done),
        sum(one.built for one in done),
    ]
    counts += [sum(any(f.startswith(COUNTED[name]) for f in one.faults) for one in done) for name in COLUMNS[6:]]
    other = sum(bool(one.faults) for one in done)
    most = (max((one.cpu_s for one in done), default=0), max((one.peak_mb for one in done), default=0))
    skipped = len(verdicts) - len(done)
    return [kind, *(f"{count:,}" for count in counts), f"{other}", f"{skipped}", f"{most[0]:.1f}", f"{most[1]:.0f}"]


def plain(one: Verdict) -> dict[str, object]:
    """Return a verdict as it is written down."""
    taken = {"cpu_s": round(one.cpu_s, 2), "peak_mb": round(one.peak_mb)}
    came = {"code": one.code, "built": one.built, "faults": one.faults, "skipped": one.skipped}
    return {"title": one.input.title, "kind": one.input.kind, "aims": one.input.aims} | taken | came


def table(verdicts: Sequence[Verdict]) -> str:
    """Return the table in Markdown."""
    head = ["class", *COLUMNS, "with a fault", "not made", "CPU s at most", "MB at most"]
    lines = [head, ["---", *["---:"] * (len(head) - 1)]]
    lines += [row(kind, [one for one in verdicts if one.input.kind == kind]) for kind in CLASSES]
    lines.append(row("all", verdicts))
    return "\n".join(f"| {' | '.join(line)} |" for line in lines)


def main() -> int:
    """Run the inputs and print the table."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n", 1)[0] if __doc__ else "")
    parser.add_argument("--kind", choices=CLASSES)
    parser.add_argument("--name", default="", help="only inputs whose name holds these words")
    parser.add_argument("--sample", type=int, help="only so many light inputs of each class")
    parser.add_argument("--cpu", type=int, default=20, help="processor seconds of a check")
    parser.add_argument("--memory", type=int, default=1024, help="MB of address space above the idle program")
    parser.add_argument("--json", type=Path, help="write the verdicts here")
    asked = parser.parse_args()
    chosen = sample(asked.sample) if asked.sample else all_inputs()
    inputs = [one for one in chosen if asked.kind in (None, one.kind) and asked.name in one.name]
    verdicts = []
    with TemporaryDirectory(prefix="hostile-") as scratch:
        for verdict in run_all(inputs, Path(scratch), Limits(check_cpu_s=asked.cpu, memory_mb=asked.memory)):
            verdicts.append(verdict)
            if verdict.faults:
                print(f"FAULT {verdict.input.title} [{verdict.cpu_s:.1f} s, {verdict.peak_mb:.0f} MB]", flush=True)
                for fault in verdict.faults[:6]:
                    print(f"    {fault}", flush=True)
                print(f"    ({len(verdict.faults)} in all)", flush=True)
            elif verdict.skipped:
                print(f"NOT MADE {verdict.input.title}: {verdict.skipped}", flush=True)
    if asked.json:
        fields = [plain(one) for one in verdicts]
        asked.json.write_text(json.dumps(fields, indent=1), encoding="utf-8")
    print(table(verdicts))
    return int(any(one.faults for one in verdicts))


if __name__ == "__main__":
    sys.exit(main())
