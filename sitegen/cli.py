"""The command line: the only room that prints.

Exit codes: 0 done, 1 findings stop it, 2 wrong use, 3 the output could not be written, 4 an error that
nobody foresaw.
"""

from __future__ import annotations

import gc
import os
import shutil
import traceback
from collections.abc import Mapping, Sequence
from importlib.resources import as_file, files
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer
from rich.markup import escape

from sitegen import __version__, comparing, handover, outdoors
from sitegen.findings.problems import OutputFault, Stopped, WrongUse, usable, visible
from sitegen.folders import project_folder
from sitegen.terminal import Folder, console, progress, work

if TYPE_CHECKING:
    from sitegen.checking import Checked
    from sitegen.preview.board import Shown

app = typer.Typer(
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    help="Check the project folder of a passive soil-gas survey and build its report.",
)


@app.callback(invoke_without_command=True)
def root(
    version: Annotated[bool, typer.Option("--version", help="Print the version and stop.")] = False,
    details: Annotated[
        Path | None,
        typer.Option("--details", help="File for the details of an unexpected error."),
    ] = None,
) -> None:
    """Check the project folder of a passive soil-gas survey and build its report."""
    work.details = details
    if version:
        console().print(f"sitegen {__version__}")
        raise typer.Exit


@app.command()
def new(
    folder: Annotated[Path, typer.Argument(help="The folder to create.")],
    *,
    workbook: Annotated[
        bool, typer.Option("--workbook", help="Make a workbook, survey.xlsx, with a sheet for each table, and no CSV.")
    ] = False,
) -> None:
    """Create an empty project folder with every file of the format."""
    with usable(folder), as_file(template_folder()) as source:
        if folder.exists() and any(folder.iterdir() if folder.is_dir() else [folder]):
            raise WrongUse(f"{folder} already exists and is not empty")
        made = {path.relative_to(source): path.read_bytes() for path in source.rglob("*") if path.is_file()}
        _write(_with_workbooks(made) if workbook else made, folder)
    console().print(f"created {escape(visible(str(folder)))}; start with {escape(visible(str(folder / 'README.md')))}")


def _with_workbooks(made: Mapping[Path, bytes]) -> dict[Path, bytes]:
    """Return the files of the template with workbooks in place of the tables."""
    from sitegen.project.entrybook import entry_books

    books = {Path(path): content for path, content in entry_books().items()}
    return {path: content for path, content in made.items() if path.suffix != ".csv"} | books


def _write(made: Mapping[Path, bytes], folder: Path) -> None:
    """Write files into a folder that is empty or not there; where that fails nothing is left."""
    try:
        for path, content in sorted(made.items()):
            target = folder / path
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_bytes(content)
    except OSError:
        shutil.rmtree(folder, ignore_errors=True)
        raise


def template_folder() -> Path:
    """Return the template folder: in a checkout beside the package, else inside it."""
    beside = Path(__file__).resolve().parent.parent / "project_template"
    return beside if beside.is_dir() else Path(str(files("sitegen").joinpath("project_template")))


app.command("plan")(outdoors.plan)
app.command("kit")(outdoors.kit)
app.command("take-in")(outdoors.take_in)
app.command("evening")(outdoors.evening)
app.command("letter")(handover.letter)
app.command("shelf")(handover.shelf)
app.command("map")(handover.map_)


@app.command()
def check(
    folder: Folder = None,
    json_file: Annotated[Path | None, typer.Option("--json", help="Also write the findings as JSON.")] = None,
    csv_file: Annotated[Path | None, typer.Option("--csv", help="Also write the findings as CSV.")] = None,
    notes: Annotated[bool, typer.Option("--notes", help="Show notes too.")] = False,
    each: Annotated[bool, typer.Option("--all", help="Show every finding, not one entry for each cause.")] = False,
    decisions: Annotated[
        Path | None,
        typer.Option("--draft-dispositions", help="Also write a new file of the dispositions required."),
    ] = None,
) -> None:
    """Check a project folder and list its findings by cause."""
    from sitegen.checking import check as run_check
    from sitegen.checks.dispositions import dispositions
    from sitegen.checks.naming import row_names
    from sitegen.render.data.findings import findings_csv, findings_json
    from sitegen.telling import so_far, tell

    folder = project_folder(folder)
    _refuse_to_overwrite(decisions)
    with progress(folder) as say:
        checked = run_check(folder, say)
    found, survey = checked.findings, checked.survey
    decided = dispositions(survey, found) if survey else {}
    _tell_line(so_far(survey))
    tell(console(), found, row_names(survey, found), decided, notes=notes, each=each)
    for file, written in ((json_file, findings_json), (csv_file, findings_csv)):
        if file:
            with usable(file):
                file.write_bytes(written(found))
    if decisions:
        _draft_dispositions(decisions, checked)
    if checked.stopped:
        raise typer.Exit(1)


def _tell_line(line: str) -> None:
    """Print a line; nothing where there is nothing to say."""
    if line:
        console().print(line, soft_wrap=True)


def _refuse_to_overwrite(file: Path | None) -> None:
    if file and file.exists():
        raise WrongUse(f"{file} already exists: dispositions are drafted into a new file")


def _draft_dispositions(file: Path, checked: Checked) -> None:
    """Write a table with the keys of the dispositions that are wanted, for a person to fill in."""
    from sitegen.checks.dispositions import drafted
    from sitegen.project.tables import DISPOSITIONS
    from sitegen.render.data.findings import dispositions_csv

    if checked.survey is None:
        raise WrongUse(f"{file} was not written: the settings cannot be read yet; correct the stops first")
    keys = drafted(checked.findings, checked.survey)
    with usable(file), file.open("xb") as stream:
        stream.write(dispositions_csv(DISPOSITIONS.column_names, keys))
    rest = f"fill in disposition, reason and by_role, and add the rows to {DISPOSITIONS.path}"
    console().print(visible(f"{file.name}: {len(keys)} row(s); {rest}"), soft_wrap=True, markup=False)
    if checked.stopped:
        console().print("stops prevent other checks from running: more may be required once they are corrected")


@app.command("draft-mapping")
def draft_mapping(
    folder: Annotated[Path, typer.Argument(help="The project folder.")],
    file: Annotated[Path, typer.Argument(help="A laboratory's CSV or XLSX in the folder's lab/.")],
    sheet: Annotated[str, typer.Option("--sheet", help="The sheet to read; by default all visible sheets.")] = "",
    out: Annotated[Path | None, typer.Option("--out", help="Output file; lab/NAME.map.toml by default.")] = None,
) -> None:
    """Draft the mapping of a laboratory's file, for a person to confirm."""
    from sitegen.project.proposal.command import draft_for

    with usable(out or folder):
        outcome = draft_for(folder, file, sheet=sheet, out=out)
    console().print(escape(visible("\n".join(outcome.lines))), soft_wrap=True)
    if not outcome.written:
        raise typer.Exit(1)


@app.command()
def build(
    folder: Folder = None,
    out: Annotated[Path | None, typer.Option("--out", help="Output folder; FOLDER-report by default.")] = None,
    issue: Annotated[
        bool,
        typer.Option("--issue", help="Refuse while a finding blocks issue of the report or a signature is missing."),
    ] = False,
    previous: Annotated[Path | None, typer.Option("--previous", help="The previous revision, if it was moved.")] = None,
    opened: Annotated[bool, typer.Option("--open", help="Open the start page in the browser.")] = False,
) -> None:
    """Build the report: site, PDF and data."""
    from sitegen.pipeline import build as run_build
    from sitegen.telling import so_far, summary

    folder = project_folder(folder)
    target = out or _beside(folder, "report")
    with progress(folder) as say:
        built = run_build(folder, target, issue=issue, previous=previous, progress=say)
    out_to = console()
    _tell_line(so_far(built.survey))
    out_to.print(summary(built.findings))
    _tell_cleared(built.cleared)
    out_to.print(f"site  {escape(visible(str(built.start_page)))}", soft_wrap=True)
    out_to.print(f"PDF   {escape(visible(str(built.pdf)))}", soft_wrap=True)
    for volume in built.report.volumes:
        out_to.print(f"      {escape(visible(str(built.out / 'site' / volume.file)))}", soft_wrap=True)
    if opened:
        _open(built.start_page)


def _open(page: Path) -> None:
    """Open a page in the browser, and say so where none can be opened."""
    import webbrowser

    if not webbrowser.open(Path(os.path.realpath(page)).as_uri()):
        console().print("no browser could be opened; open the start page yourself")


def _tell_cleared(names: Sequence[str]) -> None:
    """Say in one line what was removed of runs that were interrupted."""
    if names:
        console().print(f"removed, left by an interrupted run: {escape(visible(', '.join(names)))}", soft_wrap=True)


def _beside(folder: Path, what: str) -> Path:
    whole = Path(os.path.realpath(folder))  # a link that leads to itself is an error of Path.resolve
    return whole.with_name(f"{whole.name}-{what}")


@app.command()
def preview(
    folder: Folder = None,
    port: Annotated[
        int, typer.Option("--port", min=0, max=65535, help="The port on this computer; a free one by default.")
    ] = 0,
) -> None:
    """Show the site on this computer, and reload it whenever the folder changes."""
    from sitegen.preview.run import preview as run_preview

    folder = work.place = project_folder(folder)
    out_to = console()
    said = ""

    def tell(url: str, shown: Shown | None) -> None:
        nonlocal said
        if shown is None:
            out_to.print(f"preview  {url}\npress Ctrl-C to stop; no files are written", soft_wrap=True)
        elif not shown.working and (words := shown.trouble or f"findings: {shown.counts}") != said:
            said = words
            out_to.print(escape(visible(words)), soft_wrap=True)

    run_preview(folder, port, tell)


@app.command()
def archive(
    folder: Folder = None,
    out: Annotated[
        Path | None, typer.Option("--out", help="Where archives are kept; FOLDER-archive by default.")
    ] = None,
    zipped: Annotated[bool, typer.Option("--zip", help="Write a zip file instead of a folder.")] = False,
    issue: Annotated[
        bool,
        typer.Option("--issue", help="Refuse while a finding blocks issue of the report or a signature is missing."),
    ] = False,
) -> None:
    """Write a self-verifying archive: inputs, report and provenance."""
    from sitegen.archive.make import archive as run_archive
    from sitegen.telling import summary

    folder = project_folder(folder)
    target = out or _beside(folder, "archive")
    with progress(folder) as say:
        made = run_archive(folder, target, issue=issue, zipped=zipped, progress=say)
    out_to = console()
    out_to.print(summary(made.findings))
    _tell_cleared(made.cleared)
    if made.personal:
        out_to.print(f"{len(made.personal)} file(s) contain private words; this archive is for internal use:")
        out_to.print(escape(visible("\n".join(f"  {name}" for name in made.personal))), soft_wrap=True)
    out_to.print(f"archive  {escape(visible(str(made.bag)))}", soft_wrap=True)
    if made.private_bag:
        out_to.print(f"private  {escape(visible(str(made.private_bag)))}", soft_wrap=True)
    out_to.print(f"built twice, same digest  {made.output_digest}", soft_wrap=True)
    out_to.print(f"keep elsewhere: SHA-512 of tagmanifest-sha512.txt  {made.seal}", soft_wrap=True)


@app.command()
def verify(
    bag: Annotated[Path, typer.Argument(help="The archive, or a bag made by another program: a folder or a zip file.")],
    rebuild: Annotated[
        bool, typer.Option("--rebuild/--no-rebuild", help="Build the report again and compare every byte.")
    ] = True,
) -> None:
    """Verify an archive: complete, unchanged, reproducible from its inputs; for other bags, fixity only."""
    from sitegen.archive.verify import verify as run_verify

    with progress(bag) as say:
        verdict = run_verify(bag, rebuild=rebuild, progress=say)
    console().print(escape(visible("\n".join(verdict.lines()))), soft_wrap=True)
    if not verdict.holds:
        raise typer.Exit(1)


app.command("compare")(comparing.compare)


def look_for_cycles_seldom() -> None:
    """Set how often Python looks for dead cycles.

    A survey is held in memory whole, in millions of small objects that live to the end:
    at Python's usual pace the search takes a fifth of the time and finds few.
    """
    gc.set_threshold(200_000, 20, 100)


def main() -> None:
    """Run the command line and turn problems into plain words and an exit code."""
    look_for_cycles_seldom()
    try:
        app(standalone_mode=True)
    except Stopped as stopped:
        from sitegen.telling import tell

        out_to = console(error=True)
        tell(out_to, stopped.findings, stopped.names, {})
        out_to.print(escape(visible(f"{stopped}; nothing was written")))
        raise SystemExit(1) from None
    except WrongUse as error:
        console(error=True).print(escape(visible(f"sitegen: {error}")), soft_wrap=True)
        raise SystemExit(2) from None
    except OutputFault as error:
        console(error=True).print(escape(visible(f"sitegen: {error}")), soft_wrap=True)
        raise SystemExit(3) from None
    except Exception as error:  # noqa: BLE001 - the outermost guard: a fault of ours is told in a sentence too
        console(error=True).print(f"sitegen: {escape(visible(_unforeseen(error)))}", soft_wrap=True)
        raise SystemExit(4) from None


def _unforeseen(error: Exception) -> str:
    """Return what to say of an error that nobody foresaw, once its details are written where that was asked for."""
    said = (
        f"{type(error).__name__} while {work}. This is a fault of the program, not of the record; "
        "nothing was written, and the last report is unchanged. "
    )
    if work.details is None:
        return said + "To report it, run the command again with --details FILE before its name, and send that file."
    try:
        work.details.write_text(
            "\n".join((f"sitegen {__version__}", str(work), *traceback.format_exception(error))), "utf-8"
        )
    except OSError as refused:
        return said + f"Its details could not be written to {work.details}: {refused.strerror}."
    return said + f"Details are in {work.details}; they may quote the record."
