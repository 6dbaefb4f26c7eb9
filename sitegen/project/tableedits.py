"""Rows added to a CSV table of the folder, exactly in the file's own form, and a file replaced in one step."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from contextlib import suppress
from pathlib import Path
from tempfile import NamedTemporaryFile

from sitegen.findings.problems import OutputFault, WrongUse, no_formula
from sitegen.project.cellfills import NewRow, NotEditableError, edited_csv
from sitegen.project.intake.reform import DAYS, NUMBERS
from sitegen.project.schema import TableSpec
from sitegen.project.settings import FilePart

_PLAIN_MODE = 0o644


def with_rows(spec: TableSpec, content: bytes, rows: Sequence[Mapping[str, str]], how: FilePart) -> bytes:
    r"""Return the bytes of a table with rows added below those it has.

    ``rows`` have texts in the forms of the format, by column. Numbers are written with the file's decimal sign, and
    no text begins as a formula does. Columns that the file lacks stand behind the last of its header. Empty
    content becomes a table with every column of the format. Raises WrongUse where the file can't hold the rows.

    >>> from sitegen.project.tables import TABLE
    >>> old = b"location_id;medium\r\nSG-01;soil_gas\r\n"
    >>> new = {"location_id": "SG-02", "medium": "soil_gas", "easting": "12.50"}
    >>> with_rows(TABLE["locations"], old, [new], FilePart(delimiter=";", decimal=",")).decode()
    'location_id;medium;easting\r\nSG-01;soil_gas;\r\nSG-02;soil_gas;12,50\r\n'
    """
    _refuse_dates(spec, rows, how)
    new = [NewRow({name: _cell(spec, name, text) for name, text in row.items() if text}) for row in rows]
    try:
        return edited_csv(spec, content or None, how, (), new)
    except NotEditableError as error:
        raise WrongUse(f"{spec.path} cannot be edited: {error}") from error


def replace_file(path: Path, old: bytes | None, new: bytes) -> None:
    """Give a file new content in one step; ``old`` is what it is known to have, None where there was none.

    Raises WrongUse where the file has changed meanwhile, OutputFault where the system refuses; the file is then as
    it was. A link to a file stays one.
    """
    place = Path(os.path.realpath(path))
    scratch: Path | None = None
    try:
        if (place.read_bytes() if place.exists() else None) != old:
            raise WrongUse(f"{path} changed while it was read; nothing was written, run the command again")
        place.parent.mkdir(parents=True, exist_ok=True)
        with NamedTemporaryFile(dir=place.parent, prefix=f".{place.name}.", delete=False) as aside:
            scratch = Path(aside.name)
            aside.write(new)
            aside.flush()
            os.fsync(aside.fileno())
        scratch.chmod(place.stat().st_mode & 0o7777 if old is not None else _PLAIN_MODE)
        scratch.replace(place)
    except OSError as error:
        raise OutputFault(f"{path} could not be written: {error.strerror or error}; it is unchanged") from error
    finally:
        if scratch is not None:
            with suppress(OSError):
                scratch.unlink(missing_ok=True)


def _cell(spec: TableSpec, name: str, text: str) -> str:
    return text if spec.column(name).kind in NUMBERS else no_formula(text)


def _refuse_dates(spec: TableSpec, rows: Sequence[Mapping[str, str]], how: FilePart) -> None:
    """Raise WrongUse for a date in a file whose own form of dates is another: it would be written in two forms."""
    dated = [c.name for c in spec.columns if c.kind in DAYS and any(row.get(c.name) for row in rows)]
    if how.dates and dated:
        raise WrongUse(f"{spec.path} writes dates as {how.dates}; no row with {dated[0]} is added to it")
