"""Load and check mutated folders, and count what breaks: tracebacks and partial outputs, both to be 0.

    python benchmarks/fuzz.py [--folders 10000] [--builds 200] [--seed 1] [--base small]

Each folder is the example (or its small cut) with one to four files changed at random: bytes,
cells, columns, rows, settings, geometry. Every folder is loaded and checked in memory, as
``sitegen check`` does, and where nothing stops it, its report is put together. The first
``--builds`` of them are also written to disk and built by the program, which must end with a
known exit code and leave the last good output whole or replace it as a whole. The seed of
each folder stands in its report, to repeat it alone.
"""

from __future__ import annotations

import argparse
import csv
import hashlib
import io
import json
import random
import re
import subprocess
import sys
import tempfile
import time
import traceback
from collections import Counter
from collections.abc import Callable
from pathlib import Path

from sitegen.checking import check_snapshot
from sitegen.findings.problems import OutputFault, Stopped
from sitegen.pipeline import compose
from sitegen.project.folder import Folder, InputFile, read_folder

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT / "tests"))

from builders import write  # noqa: E402 - the tests' helpers are no package
from small_survey import small_survey  # noqa: E402

KNOWN_EXITS = (0, 1, 2, 3)
NASTY = (
    *("", " ", "NA", "0", "-1", "1e308", "-1e999", "nan", "inf", "1,5", "0x1F", "007", "ND", "<", "<<10", "<1e-400"),
    *("<script>alert(1)</script>", "{{ 7*7 }}", "#set page", "=1+1", "../../x", "C:\\x", "a;b;;c", '"', "\n", "\r"),
    *("2025-02-30T10:00", "2025-11-02T01:30", "2025-13-01", "0001-01-01T00:00", "9999-12-31T23:59", "yes", "no"),
    *("2025-11-05T08:24+99:00", "2025-11-05T08:24Z", "10:00", "\x00", "\u202e", "\ufeff", "é" * 300, "٣", "½", "🙂"),
    *("America/Nowhere", "Europe/../UTC", "EPSG:999999", "EPSG:3857", "9" * 400, "1_000", "True", "-0.0", "0.0000001"),
)
Mutation = Callable[[random.Random, str], str]


# --- mutations of text ---------------------------------------------------------------------


def _table(text: str) -> list[list[str]]:
    return list(csv.reader(io.StringIO(text, newline="")))


def _text(rows: list[list[str]]) -> str:
    out = io.StringIO(newline="")
    csv.writer(out, lineterminator="\n").writerows(rows)
    return out.getvalue()


def change_cells(dice: random.Random, text: str) -> str:
    """Set one to five cells to a nasty value or to another cell's."""
    rows = _table(text)
    for _ in range(dice.randint(1, 5)):
        row = dice.choice(rows[1:] or rows)
        if row:
            other = dice.choice(rows) or [""]
            row[dice.randrange(len(row))] = dice.choice((*NASTY, dice.choice(other)))
    return _text(rows)


def change_column(dice: random.Random, text: str) -> str:
    """Set a whole column to one nasty value."""
    rows = _table(text)
    if rows and rows[0]:
        at, value = dice.randrange(len(rows[0])), dice.choice(NASTY)
        for row in rows[1:]:
            row[at:][:1] and row.__setitem__(at, value)
    return _text(rows)


def change_header(dice: random.Random, text: str) -> str:
    """Rename, repeat, drop or swap columns in the header alone."""
    rows = _table(text)
    if not rows or not rows[0]:
        return text
    head = rows[0]
    at, other = dice.randrange(len(head)), dice.randrange(len(head))
    choice = dice.randrange(4)
    if choice == 0:
        head[at] = dice.choice((*NASTY, head[at].upper(), f"x_{head[at]}", head[at][:-1]))
    elif choice == 1:
        head[at] = head[other]
    elif choice == 2:
        del head[at]
    else:
        head[at], head[other] = head[other], head[at]
    return _text(rows)


def change_rows(dice: random.Random, text: str) -> str:
    """Drop, repeat, shorten, lengthen or shuffle rows."""
    rows = _table(text)
    if len(rows) < 2:
        return text
    at = dice.randrange(1, len(rows))
    choice = dice.randrange(6)
    if choice == 0:
        del rows[at]
    elif choice == 1:
        rows.append(list(rows[at]))
    elif choice == 2:
        rows[at] = rows[at][: dice.randrange(len(rows[at]) + 1)]
    elif choice == 3:
        rows[at] += ["extra"]
    elif choice == 4:
        tail = rows[1:]
        dice.shuffle(tail)
        rows[1:] = tail
    else:
        del rows[1:]
    return _text(rows)


def change_words(dice: random.Random, text: str) -> str:
    """Replace words or numbers of a text anywhere."""
    spots = list(re.finditer(r"[\w.+-]+", text))
    for spot in sorted(dice.sample(spots, min(len(spots), dice.randint(1, 3))), key=lambda s: -s.start()):
        new = dice.choice((*NASTY, "null", "[]", "{}", "-99.5", "1e400", dice.choice(spots).group()))
        text = text[: spot.start()] + new + text[spot.end() :]
    return text


def change_lines(dice: random.Random, text: str) -> str:
    """Drop, repeat or swap lines."""
    lines = text.splitlines(keepends=True)
    if not lines:
        return text
    at, other = dice.randrange(len(lines)), dice.randrange(len(lines))
    choice = dice.randrange(3)
    if choice == 0:
        del lines[at]
    elif choice == 1:
        lines.insert(other, lines[at])
    else:
        lines[at], lines[other] = lines[other], lines[at]
    return "".join(lines)


def change_tree(dice: random.Random, text: str) -> str:
    """Replace one node of a JSON tree by something of another kind."""
    try:
        tree = json.loads(text)
    except ValueError:
        return change_words(dice, text)
    node, spots = tree, [(tree, key) for key in tree] if isinstance(tree, dict) else []
    for _ in range(dice.randint(1, 9)):
        keys = list(node) if isinstance(node, dict) else list(range(len(node))) if isinstance(node, list) else []
        if not keys:
            break
        key = dice.choice(keys)
        spots.append((node, key))
        node = node[key]
    if spots:
        holder, key = spots[-1]
        holder[key] = dice.choice((None, [], {}, "x", True, -1, 1e308, 181.0, [[0, 0]], [[[0, 0], [1, 1]]], [0, 0, 0]))
    return json.dumps(tree)


def change_bytes(dice: random.Random, content: bytes) -> bytes:
    """Flip, insert, cut or repeat bytes anywhere."""
    raw = bytearray(content)
    for _ in range(dice.randint(1, 6)):
        at = dice.randrange(len(raw) + 1)
        choice = dice.randrange(4)
        if choice == 0:
            raw[at : at + 1] = bytes([dice.randrange(256)])
        elif choice == 1:
            raw[at:at] = dice.randbytes(dice.randint(1, 8))
        elif choice == 2:
            del raw[at : at + dice.randint(1, 200)]
        else:
            raw[at:at] = raw[at : at + dice.randint(1, 200)]
    return bytes(raw)


BY_ENDING: dict[str, tuple[Mutation, ...]] = {
    ".csv": (change_cells, change_cells, change_cells, change_column, change_header, change_rows, change_lines),
    ".geojson": (change_tree, change_tree, change_words),
    ".toml": (change_words, change_words, change_lines),
    ".md": (change_words, change_lines),
}


def mutated(base: Folder, seed: int) -> tuple[Folder, int]:
    """Return a folder with one to four files changed, and how many were."""
    dice = random.Random(seed)  # noqa: S311 - a seeded fuzz, no secret
    files = dict(base.files)
    wanted = dice.choice((1, 1, 2, 3, 4))
    for path in dice.sample(sorted(files), min(wanted, len(files))):
        content = _mutation(dice, path, files[path].content)
        files[path] = InputFile(path, hashlib.sha256(content).hexdigest(), content)
    changed = sum(files[path] is not base.files[path] for path in files)
    return Folder(files, base.passed_over, base.findings), changed


def _mutation(dice: random.Random, path: str, content: bytes) -> bytes:
    ways = BY_ENDING.get(Path(path).suffix)
    if ways is None or dice.random() < 0.15:
        return change_bytes(dice, content)
    return dice.choice(ways)(dice, content.decode("utf-8")).encode("utf-8", "surrogatepass")


# --- runs ----------------------------------------------------------------------------------


def checked(base: Folder, seeds: range, until: float) -> tuple[Counter[str], Counter[str]]:
    """Load and check folders in memory; return counts, and each crash with its first seed."""
    told: Counter[str] = Counter()
    crashes: Counter[str] = Counter()
    for seed in seeds:
        if time.monotonic() > until:
            break
        folder, changed = mutated(base, seed)
        told["folders"] += 1
        told["files"] += changed
        try:
            found = check_snapshot(folder)
            if not found.stopped:
                compose(found)
        except (Stopped, OutputFault):
            told["refused"] += 1
        except Exception:  # noqa: BLE001 - any escape is what is looked for
            lines = traceback.format_exc().strip().splitlines()
            where = [line.strip() for line in lines if "/sitegen/" in line][-1:]
            crashes[f"{where} {lines[-1][:160]}"] += 1
            print(f"seed {seed}: {where} {lines[-1][:200]}", flush=True)
        else:
            told["stopped" if found.stopped else "put together"] += 1
    return told, crashes


def built(base: Folder, seeds: range, until: float) -> Counter[str]:
    """Build folders through the program; return counts of exit codes, tracebacks, partial outputs."""
    told: Counter[str] = Counter()
    for seed in seeds:
        if time.monotonic() > until:
            break
        with tempfile.TemporaryDirectory() as place:
            folder, _ = mutated(base, seed)
            project, out = write(folder, Path(place) / "project"), Path(place) / "out"
            command = [sys.executable, "-m", "sitegen", "build", str(project), "--out", str(out)]
            ended = subprocess.run(command, capture_output=True, check=False, text=True, errors="replace")
            told[f"exit {ended.returncode}"] += 1
            bad = "Traceback" in ended.stderr + ended.stdout or ended.returncode not in KNOWN_EXITS
            left = sorted(path.name for path in Path(place).iterdir())
            wanted = ["out", "project"] if ended.returncode == 0 else ["project"]
            whole = ended.returncode != 0 or (out / "site/downloads/report.pdf").is_file()
            told["tracebacks"] += bad
            told["partial outputs"] += left != wanted or not whole
            if bad or left != wanted or not whole:
                print(f"seed {seed}: exit {ended.returncode}, left {left}\n{ended.stderr[-600:]}", flush=True)
    return told


def main() -> int:
    """Run both parts and print their counts."""
    ask = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument("--folders", type=int, default=10_000)
    ask.add_argument("--builds", type=int, default=200)
    ask.add_argument("--seed", type=int, default=1, help="the first seed; the next folders take those after it")
    ask.add_argument("--base", choices=("small", "example"), default="small")
    ask.add_argument("--seconds", type=float, default=float("inf"), help="stop after so many seconds")
    told = ask.parse_args()
    until = time.monotonic() + told.seconds
    with tempfile.TemporaryDirectory() as place:
        example = ROOT / "example_project"
        root = small_survey(example, Path(place) / "small") if told.base == "small" else example
        base = read_folder(root)
    if check_snapshot(base).stopped:
        raise SystemExit("the unchanged base is stopped by its own findings: nothing behind the checks would be tried")
    counts, crashes = checked(base, range(told.seed, told.seed + told.folders), until)
    print(f"in memory: {dict(counts)}, tracebacks {crashes.total()}")
    for crash, times in crashes.most_common():
        print(f"  {times} x {crash}")
    on_disk = built(base, range(told.seed, told.seed + told.builds), until)
    print(f"on disk: {dict(on_disk)}")
    return int(bool(crashes or on_disk["tracebacks"] or on_disk["partial outputs"]))


if __name__ == "__main__":
    raise SystemExit(main())
