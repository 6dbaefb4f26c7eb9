"""Time a whole build at several sizes, stage by stage, beside bare mkdocs and a Jinja-only floor.

    python benchmarks/run.py [--points 50 200 650 1000 3000] [--no-print] [--no-bare] [--archive]
    python benchmarks/run.py --command [--points 50 200 650 1000 3000]

``--command`` runs ``python -m sitegen build`` as a user does, reading back included, and gives wall
time, CPU time and peak memory of the process. It ends with 1 where a build does not end with 0.

Without it, each size runs in a process of its own, so that its peak memory is its own. Times are CPU
seconds (user and system, children included): on a busy machine wall time says little. The site's
stage is set beside (a) the same finished pages handed to mkdocs without a plugin of ours, as
raw HTML in Markdown files with no navigation, and (b) the same HTML put through one Jinja
template and written to files: what no generator can do without. Prints a Markdown table.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from jinja2 import Environment
from mkdocs.commands.build import build as mkdocs_build
from mkdocs.config.defaults import MkDocsConfig
from synthetic import write_folder

from sitegen.archive.make import archive
from sitegen.checking import check
from sitegen.checks.run import check_decisions, check_evaluation, check_survey
from sitegen.cli import look_for_cycles_seldom
from sitegen.compute.evaluate import evaluate
from sitegen.pipeline import compose as composed
from sitegen.project.folder import read_folder
from sitegen.project.load import load_folder
from sitegen.render.data.downloads import attachments, download_files
from sitegen.render.map.webmap import map_files
from sitegen.render.print.pdf import write_pdf
from sitegen.render.site.html import FinishedPage, finished_pages
from sitegen.render.site.linkcheck import check_links
from sitegen.render.site.paths import page_url
from sitegen.render.site.site import write_site
from sitegen.report.record.pages import Ref, Report

FLOOR = """<!doctype html><html lang="en"><head><meta charset="utf-8"><title>{{ page.head_title }}</title></head>
<body><nav>{{ page.navigation }}</nav><header>{{ page.strip }}</header><main>{{ page.article }}</main>
<footer>{{ page.footer }}</footer></body></html>
"""
STAGES = ("read", "check", "compute", "assemble", "map", "exports", "pages", "links", "pdf", "archive")


class Clock:
    """CPU seconds by stage, and the peak memory in MB after each."""

    def __init__(self) -> None:
        self.seconds: dict[str, float] = {}
        self.peak_mb: dict[str, int] = {}

    @contextmanager
    def __call__(self, stage: str) -> Iterator[None]:
        """Time a stage."""
        start = cpu()
        yield
        self.seconds[stage] = cpu() - start
        self.peak_mb[stage] = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024


def cpu() -> float:
    """Return the CPU seconds of this process and its ended children."""
    times = os.times()
    return times.user + times.system + times.children_user + times.children_system


def one_size(points: int, place: Path, told: argparse.Namespace) -> dict[str, object]:
    """Build one size stage by stage in ``place`` and return its figures."""
    folder = write_folder(points, place / "project")
    clock, start = Clock(), time.perf_counter()
    report = _records(folder, clock)
    site = place / "site"
    site.mkdir()
    files = _data(report, clock)
    with clock("pages"):
        write_site(report, site, files)
    with clock("links"):
        check_links(site)
    wall_s = time.perf_counter() - start
    found = {"points": points, "pages": len(report.pages), "wall_s": wall_s, "site_mb": _megabytes(site)}
    found |= {"site_cpu_s": sum(clock.seconds.values()), "site_peak_mb": max(clock.peak_mb.values())}
    if not told.no_bare:
        _beside(report, files, place, clock)
    if not told.no_print:
        with clock("pdf"):
            write_pdf(report, place / "report.pdf", {}, _attached(files))
    if told.archive:
        with clock("archive"):
            archive(folder, place / "archive")
    return found | {"seconds": clock.seconds, "peak_mb": max(clock.peak_mb.values())}


def _attached(files: dict[str, bytes]) -> dict[str, bytes]:
    return attachments({name: content for name, content in files.items() if name.startswith("downloads/")})


def _records(folder: Path, clock: Clock) -> Report:
    """Read, check, compute and assemble, each timed; the report is composed as a build does."""
    with clock("read"):
        survey, _ = load_folder(read_folder(folder))
    if survey is None:
        raise SystemExit("the synthetic folder can't be read")
    with clock("check"):
        found = check_survey(survey)
    with clock("compute"):
        evaluation = evaluate(survey)
    with clock("check of results"):
        found += check_evaluation(survey, evaluation)
        check_decisions(survey, found)
    del evaluation
    checked = check(folder)
    with clock("assemble"):
        return composed(checked)[1]


def _data(report: Report, clock: Clock) -> dict[str, bytes]:
    with clock("map"):
        files = map_files(report.map, report.meta, lambda name: f"../{page_url(Ref('location', name))}", b"")
    with clock("exports"):
        files |= download_files(report)
    return files


def _beside(report: Report, files: dict[str, bytes], place: Path, clock: Clock) -> None:
    """Time what the pages cost elsewhere: nobody can be charged for making their HTML twice."""
    with clock("html"):
        pages = list(finished_pages(report, sorted(files)))
    with clock("bare mkdocs"):
        _bare_mkdocs(pages, place)
    with clock("Jinja floor"):
        template = Environment(autoescape=False).from_string(FLOOR)  # noqa: S701 - finished HTML
        for page in pages:
            target = place / "floor" / page.url
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_text(template.render(page=page), "utf-8")


def _bare_mkdocs(pages: list[FinishedPage], place: Path) -> None:
    docs = place / "docs"
    for page in pages:
        target = docs / page.url.replace(".html", ".md")
        target.parent.mkdir(parents=True, exist_ok=True)
        unbroken = page.article.replace("\n", " ")
        target.write_text(f"# {page.head_title}\n\n<div>{unbroken}</div>\n", "utf-8")
    config = MkDocsConfig()
    config.load_dict(
        {
            "site_name": "Bare",
            "docs_dir": str(docs),
            "site_dir": str(place / "bare"),
            "use_directory_urls": False,
            "nav": ["index.md"],
            "theme": {"name": "material", "font": False},
            "plugins": ["material/search", "material/offline"],
            "validation": {"links": {"not_found": "ignore", "unrecognized_links": "ignore"}},
        }
    )
    config.validate()
    mkdocs_build(config)


def one_command(points: int, place: Path) -> dict[str, float]:
    """Build one size in ``place`` by the command and return the figures of its process.

    Raises SystemExit with what the command said where it does not end with 0.
    """
    folder, out = write_folder(points, place / "project"), place / "report"
    start = time.perf_counter()
    command = [sys.executable, "-m", "sitegen", "build", str(folder), "--out", str(out)]
    with subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True) as process:
        said = process.stderr.read() if process.stderr else ""
        _, status, used = os.wait4(process.pid, 0)
        process.returncode = os.waitstatus_to_exitcode(status)
    wall_s = time.perf_counter() - start
    if process.returncode:
        raise SystemExit(f"{points} points: exit code {process.returncode}\n{said}")
    return {
        "points": points,
        "wall_s": wall_s,
        "cpu_s": used.ru_utime + used.ru_stime,
        "peak_mb": used.ru_maxrss / 1024,
        "pages": json.loads((out / "build.json").read_text("utf-8"))["pages"],
        "volumes": len(list(out.rglob("report*.pdf"))),
        "report_mb": _megabytes(out),
    }


def command_table(sizes: list[dict[str, float]]) -> str:
    """Return the figures of the command as a Markdown table, one row per size."""
    heads = ("points × 60", "wall s", "CPU s", "peak memory, MB", "pages of the site", "PDFs", "report, MB")
    lines = [f"| {' | '.join(heads)} |", "| ---: " * len(heads) + "|"]
    lines += [f"| {' | '.join(f'{value:,.0f}' for value in size.values())} |" for size in sizes]
    return "\n".join(lines)


def _megabytes(folder: Path) -> float:
    return sum(path.stat().st_size for path in folder.rglob("*") if path.is_file()) / 1e6


def machine() -> str:
    """Return processor, cores and memory in one line."""
    info = Path("/proc/cpuinfo")
    names = [line for line in info.read_text().splitlines() if line.startswith("model name")] if info.exists() else []
    name = names[0].partition(":")[2].strip() if names else platform.processor()
    memory = os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES") / 2**30
    load = ", ".join(f"{number:.1f}" for number in os.getloadavg())
    return f"{name}, {os.cpu_count()} cores, {memory:.0f} GB, Python {platform.python_version()}, load {load}"


def table(sizes: list[dict[str, object]]) -> str:
    """Return the figures as a Markdown table, one column per size."""
    lines = [
        "| CPU seconds | " + " | ".join(f"{size['points']:,} points" for size in sizes) + " |",
        "| --- |" + " ---: |" * len(sizes),
    ]
    stages = list(dict.fromkeys(stage for size in sizes for stage in size["seconds"]))  # type: ignore[attr-defined]
    for stage in stages:
        cells = [f"{size['seconds'][stage]:.1f}" if stage in size["seconds"] else "" for size in sizes]  # type: ignore[index,operator]
        lines.append(f"| {stage} | " + " | ".join(cells) + " |")
    for key, words in (
        ("site_cpu_s", "**whole site, CPU s**"),
        ("wall_s", "whole site, wall s"),
        ("site_peak_mb", "peak memory of the site, MB"),
        ("peak_mb", "peak memory of all, MB"),
        ("pages", "pages"),
        ("site_mb", "site, MB"),
    ):
        lines.append(f"| {words} | " + " | ".join(f"{size[key]:,.0f}" for size in sizes) + " |")
    if all("html" in size["seconds"] for size in sizes):  # type: ignore[operator]
        lines += _ratio_lines([size["seconds"] for size in sizes])  # type: ignore[misc]
    return "\n".join(lines)


def _ratio_lines(sizes: list[dict[str, float]]) -> Iterator[str]:
    for stage, words in (("bare mkdocs", "pages ÷ (HTML + bare mkdocs)"), ("Jinja floor", "pages ÷ (HTML + floor)")):
        yield f"| {words} | " + " | ".join(f"{_ratio(seconds, stage):.2f}" for seconds in sizes) + " |"


def _ratio(seconds: dict[str, float], stage: str) -> float:
    return seconds["pages"] / (seconds["html"] + seconds[stage])


def main() -> None:
    """Run every size in its own process and print the table."""
    ask = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument("--points", type=int, nargs="+", default=[50, 200, 650, 1_000, 3_000])
    ask.add_argument("--command", action="store_true", help="time the command as a user runs it, all of it")
    ask.add_argument("--no-print", action="store_true", help="leave the PDF out")
    ask.add_argument("--no-bare", action="store_true", help="leave bare mkdocs and the Jinja floor out")
    ask.add_argument("--archive", action="store_true", help="time an archive too")
    ask.add_argument("--one", type=int, help=argparse.SUPPRESS)
    told = ask.parse_args()
    if told.one:
        look_for_cycles_seldom()
        with tempfile.TemporaryDirectory() as place:
            found = one_size(told.one, Path(place), told)
        print(json.dumps(found))
        return
    if told.command:
        _by_command(told.points)
    else:
        _by_stage(told)
    print(f"\n{machine()}")


def _by_command(points: list[int]) -> None:
    sizes = []
    for number in points:
        with tempfile.TemporaryDirectory() as place:
            sizes.append(one_command(number, Path(place)))
        print(command_table(sizes), flush=True)


def _by_stage(told: argparse.Namespace) -> None:
    asked = (("--no-print", told.no_print), ("--no-bare", told.no_bare), ("--archive", told.archive))
    passed = [flag for flag, on in asked if on]
    sizes = []
    for points in told.points:
        command = [sys.executable, __file__, "--one", str(points), *passed]
        ended = subprocess.run(command, check=True, stdout=subprocess.PIPE, text=True)
        sizes.append(json.loads(ended.stdout.splitlines()[-1]))
        print(table(sizes), flush=True)


if __name__ == "__main__":
    main()
