"""What a person does who follows a message, with no more knowledge than the message and the papers.

The papers behind the record are the unchanged example: a time "looked up in the field sheet" is the example's,
in the cell that the finding names.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path

import defects as named
import pyproj
from builders import (
    KEYS,
    Change,
    cell,
    cell_at,
    cells,
    content,
    every,
    example,
    key_of,
    load,
    removed,
    row_added,
    rows_of,
    table,
)

from sitegen.findings.problems import Finding
from sitegen.project.folder import Folder

Remedy = Callable[[Folder, Finding], Iterable[Change]]


# --- what a message tells to do, in general --------------------------------------------------


def rows_at(folder: Folder, path: str) -> list[dict[str, str]]:
    return rows_of(folder.files[path].content)[1]


def looked_up(_: Folder, finding: Finding) -> Iterator[Change]:
    """Write what the papers say into the cell that the finding names."""
    where = finding.where
    assert where.row is not None
    assert where.column is not None
    value = rows_at(example(), where.file)[where.row - 2].get(where.column, "")
    yield cell_at(where.file, where.row, where.column, value)


def line_corrected(folder: Folder, finding: Finding) -> Iterator[Change]:
    """Write the line that the finding names as the papers have it."""
    path, row = finding.where.file, finding.where.row
    assert row is not None
    lines = folder.files[path].content.decode().split("\n")
    lines[row - 1] = example().files[path].content.decode().split("\n")[row - 1]
    yield content(path, "\n".join(lines).encode())


def told(pattern: str, part: str = "do") -> Remedy:
    """Write the value that the message itself gives into the cell that the finding names."""

    def remedy(_: Folder, finding: Finding) -> Iterator[Change]:
        match = re.search(pattern, getattr(finding, part))
        assert match, f"{finding.do!r} gives no value"
        assert finding.where.row is not None
        assert finding.where.column is not None
        yield cell_at(finding.where.file, finding.where.row, finding.where.column, match[1])

    return remedy


def written(value: str) -> Remedy:
    """Write a value into the cell that the finding names; "" clears it."""

    def remedy(_: Folder, finding: Finding) -> Iterator[Change]:
        assert finding.where.row is not None
        assert finding.where.column is not None
        yield cell_at(finding.where.file, finding.where.row, finding.where.column, value)

    return remedy


def in_its_row(**values: str) -> Remedy:
    """Write values into the row that the finding names."""

    def remedy(_: Folder, finding: Finding) -> Iterator[Change]:
        assert finding.where.row is not None
        for column, value in values.items():
            yield cell_at(finding.where.file, finding.where.row, column, value)

    return remedy


def row_removed(_: Folder, finding: Finding) -> Iterator[Change]:
    row = finding.where.row
    assert row is not None
    yield table(finding.where.file, lambda rows: [*rows[: row - 2], *rows[row - 1 :]])


def file_added(_: Folder, finding: Finding) -> Iterator[Change]:
    """Put the file there that the finding names."""
    yield content(finding.where.file, example().files[finding.where.file].content)


def moved_to_records(folder: Folder, finding: Finding) -> Iterator[Change]:
    path = finding.where.file
    yield removed(path)
    yield content(f"records/{Path(path).name}", folder.files[path].content)


def setting_written(folder: Folder, finding: Finding) -> Iterator[Change]:
    """Write the setting that the finding names into its part of project.toml, as the papers have it."""
    part, _, key = (finding.where.column or "").rpartition(".")
    (line,) = [line for line in text_of(example(), named.SETTINGS).split("\n") if line.startswith(f"{key} =")]
    now = text_of(folder, named.SETTINGS)
    yield content(named.SETTINGS, now.replace(f"[{part}]\n", f"[{part}]\n{line}\n", 1).encode())


def line_removed(folder: Folder, finding: Finding) -> Iterator[Change]:
    row = finding.where.row
    assert row is not None
    lines = text_of(folder, finding.where.file).split("\n")
    yield content(finding.where.file, "\n".join([*lines[: row - 1], *lines[row:]]).encode())


def text_of(folder: Folder, path: str) -> str:
    return folder.files[path].content.decode()


def as_recorded(path: str, key: str, *columns: str) -> Remedy:
    """Write what the papers say into named cells of the row with a key."""

    def remedy(_: Folder, __: Finding) -> Iterator[Change]:
        (row,) = [row for row in rows_at(example(), path) if key_of(path, row) == key]
        yield cells(path, key, **{column: row[column] for column in columns})

    return remedy


def row_looked_up(folder: Folder, finding: Finding) -> Iterator[Change]:
    """Write what the papers say into every cell of the row that the finding names."""
    row = rows_at(example(), finding.where.file)[(finding.where.row or 0) - 2]
    yield from in_its_row(**row)(folder, finding)


def of_its_subject(path: str, column: str, value: str) -> Remedy:
    """Write a value into the row of a table that has the finding's subject as its key."""
    return lambda _, finding: [cell(path, finding.subject.partition("+")[0], column, value)]


def words_replaced(words: str) -> Remedy:
    """Write other words for those that the finding quotes."""

    def remedy(folder: Folder, finding: Finding) -> Iterator[Change]:
        row = finding.where.row
        assert row is not None
        quoted = finding.found.split("'")[1]
        lines = text_of(folder, finding.where.file).split("\n")
        near = "\n".join(lines[row - 1 :])
        pattern = r"\s+".join(map(re.escape, quoted.split()))
        assert re.search(pattern, near), f"{quoted!r} does not stand at {finding.where}"
        lines[row - 1 :] = re.sub(pattern, lambda _: words, near, count=1).split("\n")
        yield content(finding.where.file, "\n".join(lines).encode())

    return remedy


def sentence_removed(folder: Folder, finding: Finding) -> Iterator[Change]:
    """Take the paragraph out in which the finding stands."""
    row = finding.where.row
    assert row is not None
    lines = text_of(folder, finding.where.file).split("\n")
    end = next((at for at in range(row - 1, len(lines)) if not lines[at]), len(lines))
    yield content(finding.where.file, "\n".join([*lines[: row - 1], *lines[end:]]).encode())


def sentence_added(section: str, words: str) -> Remedy:
    path = f"text/{section}.md"
    return lambda folder, _: [content(path, f"{text_of(folder, path)}\n{words}\n".encode())]


def compound_concluded(folder: Folder, finding: Finding) -> Iterator[Change]:
    """Add a sentence with the compound and the point that the finding names."""
    match = re.search(r"mentions (.+) with (\S+) or ", finding.found)
    assert match, finding.found
    yield from sentence_added("conclusions", f"{match[1]} at {match[2]} lies above its level.")(folder, finding)


def exceedance_stated(folder: Folder, finding: Finding) -> Iterator[Change]:
    """Add a sentence with the compound and the point that the finding names to the section that lacks it."""
    match = re.search(r"of the (\w+) names (.+) together with (\S+)", finding.found)
    assert match, finding.found
    yield from sentence_added(match[1], f"{match[2]} at {match[3]} is above its level.")(folder, finding)


# --- what single messages tell ----------------------------------------------------------------


def header_row(words: bytes) -> Remedy:
    return lambda _, finding: [content(finding.where.file, words)]


def saved_as_utf8(folder: Folder, finding: Finding) -> Iterator[Change]:
    yield content(finding.where.file, folder.files[finding.where.file].content.decode("latin-1").encode())


def column_renamed(folder: Folder, finding: Finding) -> Iterator[Change]:
    match = re.search(r"rename it to (\w+)", finding.do)
    assert match, finding.do
    path = finding.where.file
    yield content(path, text_of(folder, path).replace(finding.where.column or "", match[1], 1).encode())


def copied_into_the_folder(_: Folder, finding: Finding) -> Iterator[Change]:
    inside = "records/" + finding.found.rpartition("/")[2]
    yield content(inside, b"a scan")
    yield from written(inside)(example(), finding)


def moved_and_its_path_written(folder: Folder, finding: Finding) -> Iterator[Change]:
    inside = "records/" + finding.found.rpartition("/")[2]
    yield removed(finding.found)
    yield content(inside, folder.files[finding.found].content)
    yield from written(inside)(folder, finding)


def point_zeros_dropped(folder: Folder, finding: Finding) -> Iterator[Change]:
    yield from written(finding.found.strip("'").replace(",", ""))(folder, finding)


def columns_swapped(folder: Folder, finding: Finding) -> Iterator[Change]:
    """Put easting and northing the other way round: in the row named, or everywhere."""
    swap = lambda row: {"easting": row["northing"], "northing": row["easting"]}  # noqa: E731
    planned = lambda row: {"plan_easting": row["plan_northing"], "plan_northing": row["plan_easting"]}  # noqa: E731
    if finding.subject == "all":
        yield every(named.LOCATIONS, lambda row: swap(row) | planned(row))
    else:
        row = rows_at(folder, named.LOCATIONS)[(finding.where.row or 0) - 2]
        yield cells(named.LOCATIONS, finding.subject, **swap(row))


def last_feature_removed(folder: Folder, finding: Finding) -> Iterator[Change]:
    data = json.loads(folder.files[finding.where.file].content)
    yield content(finding.where.file, json.dumps(data | {"features": data["features"][:-1]}).encode())


def setting_told(pattern: str) -> Remedy:
    """Write the value that the message gives in place of the one that the setting has."""

    def remedy(folder: Folder, finding: Finding) -> Iterator[Change]:
        match = re.search(pattern, finding.do)
        assert match, finding.do
        lines = text_of(folder, named.SETTINGS).split("\n")
        row = finding.where.row
        assert row is not None
        key = lines[row - 1].partition(" =")[0]
        lines[row - 1] = f'{key} = "{match[1]}"'
        yield content(named.SETTINGS, "\n".join(lines).encode())

    return remedy


def class_names_corrected(folder: Folder, finding: Finding) -> Iterator[Change]:
    """Write the class that the message gives, and no word for what is no class."""
    match = re.search(r"write (\w+)", finding.do)
    assert match, finding.do
    now = text_of(folder, named.SETTINGS)
    yield content(named.SETTINGS, now.replace('["field comments", "cost figures"]', f'["{match[1]}"]').encode())


def deviation_added(_: Folder, finding: Finding) -> Iterator[Change]:
    """Add the row that the message describes: it names its file, its columns and, in what is expected, the point."""
    match = re.search(r"with (\S+) in affected_ids", finding.expected)
    assert match, finding.expected
    assert "deviations.csv" in finding.do
    assert "affected_ids" in finding.do
    yield row_added(
        named.DEVIATIONS, deviation_id="DV-99", date="2025-11-06", plan_ref="plan 4", what="as noted", why="as noted",
        effect="may be low", affected_ids=match[1], agreed_by_role="PM-1", agreed_on="2025-11-07",
    )  # fmt: skip


def ticket_named(folder: Folder, finding: Finding) -> Iterator[Change]:
    ticket = rows_at(folder, named.CLEARANCE)[0]
    yield cell(named.CLEARANCE, ticket["ticket"], "location_ids", f"{ticket['location_ids']};{finding.subject}")


def signed(folder: Folder, _: Finding) -> Iterator[Change]:
    digest = load(folder).digest
    for role in ("PM-1", "LR-1"):
        yield row_added(
            named.SIGNOFF,
            revision="1",
            role=role,
            statement="read",
            signed_at="2025-12-12T10:00",
            content_digest=digest,
        )


def signed_again(folder: Folder, finding: Finding) -> Iterator[Change]:
    yield from in_its_row(content_digest=load(folder).digest, signed_at="2025-12-12T10:00")(folder, finding)


def reason_added(_: Folder, finding: Finding) -> Iterator[Change]:
    assert "review/changes.csv" in finding.do
    yield row_added("review/changes.csv", revision="2", key="results:*", reason="mended")


def rows_added_again(path: str, *columns: str) -> Remedy:
    """Add the rows that the laboratory or the station sent: those of the papers that the table lacks."""

    def remedy(folder: Folder, _: Finding) -> Iterator[Change]:
        there = {tuple(row[name] for name in columns or KEYS[path]) for row in rows_at(folder, path)}
        lost = [r for r in rows_at(example(), path) if tuple(r[name] for name in columns or KEYS[path]) not in there]
        assert lost
        yield table(path, lambda rows: [*rows, *lost])

    return remedy


def weather_in_order(folder: Folder, finding: Finding) -> Iterator[Change]:
    yield from rows_added_again(named.WEATHER)(folder, finding)
    yield table(named.WEATHER, lambda rows: sorted(rows, key=lambda row: row["at"]))


def disposition_filled_in(_: Folder, finding: Finding) -> Iterator[Change]:
    yield from in_its_row(disposition="accepted", reason="looked into", by_role="LR-1")(example(), finding)


def replaced_in_text(old: str, new: str) -> Remedy:
    """Write plain words for words that the finding describes without quoting them."""

    def remedy(folder: Folder, finding: Finding) -> Iterator[Change]:
        now = text_of(folder, finding.where.file)
        assert old in now.split("\n")[(finding.where.row or 0) - 1]
        yield content(finding.where.file, now.replace(old, new).encode())

    return remedy


def theme_taken_out(folder: Folder, finding: Finding) -> Iterator[Change]:
    assert "remove it from [theme]" in finding.do
    yield content(named.SETTINGS, text_of(folder, named.SETTINGS).partition("[theme]")[0].encode())


def position_taken_out(folder: Folder, finding: Finding) -> Iterator[Change]:
    """Take the positions of no point out of the file that the finding names."""
    assert "remove it from the file" in finding.do
    name = re.escape(finding.found.rpartition(": ")[2])
    now = text_of(folder, finding.where.file)
    yield content(finding.where.file, re.sub(rf"<wpt [^>]*><name>{name}</name></wpt>", "", now).encode())


def positions_added(folder: Folder, finding: Finding) -> Iterator[Change]:
    """Add the points that were measured to the file of positions."""
    match = re.search(r"without a position in (\S+):", finding.found)
    assert match, finding.found
    degrees = pyproj.Transformer.from_crs("EPSG:32614", "EPSG:4326", always_xy=True)
    now = text_of(folder, match[1])
    lacking = [row for row in rows_at(example(), named.LOCATIONS) if f"<name>{row['location_id']}<" not in now]
    made = ""
    for row in lacking:
        if row["status"] != "not_done":
            x, y = degrees.transform(float(row["easting"]), float(row["northing"]))
            made += f'<wpt lon="{x}" lat="{y}"><name>{row["location_id"]}</name></wpt>'
    yield content(match[1], now.replace("</gpx>", f"{made}</gpx>").encode())


def told_setting(folder: Folder, finding: Finding) -> Iterator[Change]:
    """Write the first line that the message gives in place of the line of project.toml that the finding names."""
    match = re.search(r'(\w+ = "[^"]+")', finding.do)
    assert match, finding.do
    lines = text_of(folder, finding.where.file).split("\n")
    assert lines[(finding.where.row or 0) - 1].startswith(match[1].partition(" ")[0])
    lines[(finding.where.row or 0) - 1] = match[1]
    yield content(finding.where.file, "\n".join(lines).encode())


def other_file_removed(_: Folder, finding: Finding) -> Iterator[Change]:
    assert finding.do.startswith("keep the one that contains the features")
    yield removed(finding.where.file)
