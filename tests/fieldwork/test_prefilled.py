"""Tables begun for the crew: they read in the folder as they are, and stop it at the missing serials alone."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Mapping

from builders import Change, Row, changed, content, example, load, row_added, rows_of, setting, survey_findings
from fieldwork.planned_survey import planned, planned_folder
from planned_survey import folder, in_field

from sitegen.compute.design.fieldplan import field_plan
from sitegen.fieldwork.kit.inplace import open_tasks
from sitegen.fieldwork.kit.prefilled import prefilled_tables
from sitegen.findings.problems import Severity
from sitegen.project.folder import Folder
from sitegen.project.tables import TABLE

TABLES = ("samplers", "deployments", "return_bags", "shipments", "custody")


def made_of(folder: Folder) -> dict[str, bytes]:
    survey = load(folder)
    return prefilled_tables(survey, field_plan(survey))


def rows(files: Mapping[str, bytes], name: str) -> list[Row]:
    return rows_of(files[f"tables/{name}.csv"])[1]


def put(files: Mapping[str, bytes], *names: str) -> tuple[Change, ...]:
    """Put tables of the kit in the place of the folder's own."""
    return tuple(content(f"field/{name}.csv", files[f"tables/{name}.csv"]) for name in names)


def stops(folder: Folder) -> set[tuple[str, str]]:
    """Return code and place of each stop of reading and checking."""
    found = survey_findings(folder)
    return {(one.code, f"{one.where.file}:{one.where.column}") for one in found if one.severity is Severity.STOP}


def typed(files: Mapping[str, bytes]) -> bytes:
    """Return samplers.csv with a serial beside each label."""
    header, lines = rows_of(files["tables/samplers.csv"])
    out = io.StringIO(newline="")
    writer = csv.DictWriter(out, header)
    writer.writeheader()
    writer.writerows({**row, "sampler_id": row["sampler_id"] or f"00{i:04}"} for i, row in enumerate(lines))
    return out.getvalue().encode()


def test_the_columns_are_those_of_the_format() -> None:
    """Each table has columns of the format in their order; what is further begins with x_."""
    files = made_of(planned_folder())
    for path, data in files.items():
        name = path.removeprefix("tables/").removesuffix(".csv").removesuffix("_to_fill")
        header, _ = rows_of(data)
        own = [column for column in header if not column.startswith("x_")]
        assert own == [column for column in TABLE[name].column_names if column in own]
        assert set(TABLE[name].column_names) - set(own) <= {"depth_m", "depth_ft"}
        assert {column.name for column in TABLE[name].columns if column.required or column.needed} <= set(own)


def test_each_label_of_the_plan_waits_for_its_serial() -> None:
    """Samplers: a row for each sampler of the plan, in its order, with label and kind and nothing else."""
    survey, plan = planned()
    found = rows(prefilled_tables(survey, plan), "samplers")
    assert [(row["label"], row["kind"]) for row in found] == [(one.label, one.use) for one in plan.allocation.slots]
    assert {row["sampler_id"] for row in found} == {""}


def test_only_the_missing_serials_stop_the_folder() -> None:
    """All five tables in the planned folder: it stops where serials are blank, and no further once they are typed."""
    base = planned_folder()
    files = made_of(base)
    before = stops(base)
    inside = changed(*put(files, *TABLES), folder=base)
    assert stops(inside) - before == {("cell-blank", "field/samplers.csv:sampler_id")}
    whole = changed(content("field/samplers.csv", typed(files)), folder=inside)
    assert not stops(whole) - before


def test_serials_on_record_reach_every_other_table() -> None:
    """After the serials are typed: placings, duplicates and trip blanks have them, and nothing waits any more."""
    first = made_of(planned_folder())
    survey = load(planned_folder(content("field/samplers.csv", typed(first))))
    plan = field_plan(survey)
    files = prefilled_tables(survey, plan)
    serial = {row["label"]: row["sampler_id"] for row in rows(files, "samplers")}
    assert all(serial.values())
    assert len(serial) == len(plan.allocation.slots)
    for row in rows(files, "deployments_to_fill"):
        assert row["sampler_id"] == serial[row["x_label"]]
        assert row["duplicate_of"] == serial.get(row["x_duplicate_of_label"], "")
        assert row["placed_at"] == row["bag_id"] == row["depth_ft"] == ""
    assert any(row["duplicate_of"] for row in rows(files, "deployments_to_fill"))
    for row in rows(files, "return_bags"):
        assert row["trip_blank_id"] == serial[row["x_trip_blank_label"]]


def test_rows_that_are_filled_in_are_read() -> None:
    """Placings to fill become the table once the time is typed: the folder stops no more than before."""
    base = planned_folder(content("field/samplers.csv", typed(made_of(planned_folder()))))
    header, lines = rows_of(made_of(base)["tables/deployments_to_fill.csv"])
    out = io.StringIO(newline="")
    writer = csv.DictWriter(out, header)
    writer.writeheader()
    writer.writerows({**row, "placed_at": "2025-10-23T08:11"} for row in lines if row["location_id"])
    filled = changed(content("field/deployments.csv", out.getvalue().encode()), folder=base)
    assert len(load(filled).frame("deployments")) == sum(bool(row["location_id"]) for row in lines) > 50
    assert not {place for code, place in stops(filled) if code.startswith(("cell", "column", "duplicate"))}


def test_bags_and_ways_of_the_plan_are_begun() -> None:
    """Each bag with the label of its trip blank; a shipment out and one back; hand-overs that are awaited."""
    survey, plan = planned()
    files = prefilled_tables(survey, plan)
    bags = [(row["bag_id"], row["x_trip_blank_label"], row["count_declared"]) for row in rows(files, "return_bags")]
    assert bags == [(one.bag_id, one.label, "") for one in plan.allocation.of("trip_blank")]
    assert [row["direction"] for row in rows(files, "shipments")] == ["out", "return"]
    assert not rows(files, "custody")
    assert not rows(files, "deployments")
    awaited = [(row["subject_id"], row["event"], row["at"]) for row in rows(files, "custody_to_fill")]
    assert awaited == [
        ("SHIPMENT-OUT", "received", ""), ("SHIPMENT-RETURN", "relinquished", ""), ("SHIPMENT-RETURN", "accepted", "")
    ]  # fmt: skip


def test_nothing_that_the_folder_has_is_lost() -> None:
    """The finished example: each table of the kit begins with every row of the folder's, cell for cell."""
    files = made_of(example())
    for name in TABLES:
        _, own = rows_of(example().files[f"field/{name}.csv"].content)
        kept = rows(files, name)[: len(own)]
        for mine, theirs in zip(kept, own, strict=True):
            assert {column: text for column, text in mine.items() if column in theirs} == theirs
            assert not [column for column, text in mine.items() if text and column not in theirs]


def test_what_is_on_record_is_not_asked_again() -> None:
    """A bag by its own name, a shipment, a hand-over, a placing: the plan adds none beside it."""
    files = made_of(example())
    assert {row["bag_id"] for row in rows(files, "return_bags")} == {"RB-1", "RB-2"}
    assert {row["shipment_id"] for row in rows(files, "shipments")} == {"SH-O1", "SH-R1"}
    placed = {row["sampler_id"] for row in rows(files, "deployments")}
    assert not {row["sampler_id"] for row in rows(files, "deployments_to_fill")} & placed
    events = {(row["subject_id"], row["event"]) for row in rows(files, "custody")}
    assert not {(row["subject_id"], row["event"]) for row in rows(files, "custody_to_fill")} & events


def test_a_sampler_in_place_is_not_asked_for_though_it_has_no_label() -> None:
    """Rows to fill are as many as samplers are still to be placed, whatever labels the list of samplers has."""
    files = in_field()
    files["field/samplers.csv"] = re.sub(r"(?m)^(02\d\d),[^,]*,", r"\1,,", files["field/samplers.csv"])
    survey = load(folder(files))
    plan = field_plan(survey)
    awaited = [task.label for task in open_tasks(survey, plan) if task.row is None]
    to_fill = rows(prefilled_tables(survey, plan), "deployments_to_fill")
    assert sorted(row["x_label"] for row in to_fill) == sorted(awaited)
    assert not {row["x_label"] for row in to_fill} & {"SG-01", "SG-05", "SG-06", "IA-1"}


def test_a_table_is_written_as_the_folders_own_is_said_to_be() -> None:
    """It takes the place of a file with semicolons, decimal commas and another encoding, and is read as before."""
    files = in_field()
    files["project.toml"] += '\n[files."field/deployments.csv"]\ndelimiter = ";"\ndecimal = ","\nencoding = "cp1252"\n'
    files["field/deployments.csv"] = files["field/deployments.csv"].replace(",", ";").replace("3.0", "3,0")
    own = folder(files)
    survey = load(own)
    made = prefilled_tables(survey, field_plan(survey))["tables/deployments.csv"]
    again = load(changed(content("field/deployments.csv", made), folder=own))
    assert made.startswith(b"sampler_id;location_id;")
    assert again.frame("deployments").equals(survey.frame("deployments"))
    assert again.frame("deployments")["depth_ft"].tolist()[:2] == [3.0, 3.0]


def test_depth_is_asked_for_in_the_unit_of_the_plan() -> None:
    """Feet in a plan in feet, metres in a plan in metres; the planned depth stands beside, not in the column."""
    in_metres = setting('depth = { value = 3.0, unit = "ft" }', 'depth = { value = 0.9, unit = "m" }')
    for change, wanted, other, said in (
        ((), "depth_ft", "depth_m", "3 ft"),
        ((in_metres,), "depth_m", "depth_ft", "0.9 m"),
    ):
        found = rows(made_of(planned_folder(*change)), "deployments_to_fill")
        assert wanted in found[0]
        assert other not in found[0]
        assert {row[wanted] for row in found} == {""}
        assert said in {row["x_planned_depth"] for row in found}


def test_no_cell_is_run_by_a_spreadsheet() -> None:
    """A note that begins as a formula is kept from being one."""
    noted = row_added("field/samplers.csv", sampler_id="0001", label="X-1", kind="spare", note='=HYPERLINK("x")')
    found = rows(made_of(planned_folder(noted)), "samplers")
    assert found[0]["note"] == '\'=HYPERLINK("x")'
