"""Situations of field work beside the example's own: a field blank, a replaced sampler, a duplicate in air.

Each is a set of changes to the example survey, with one sampler more in every count that it enters. All
figures are invented.

    survey = load(changed(*field_blank(), *replacement(), *air_duplicate()))
"""

from __future__ import annotations

from collections.abc import Mapping

from builders import Change, Row, row_added, table

SAMPLERS, DEPLOYMENTS = "field/samplers.csv", "field/deployments.csv"
BAGS, SHIPMENTS = "field/return_bags.csv", "field/shipments.csv"
LAB_SAMPLES, RESULTS, LAB_QC = "lab/lab_samples.csv", "lab/results.csv", "lab/lab_qc.csv"

BLANK, REPLACEMENT, AIR_DUPLICATE = "0047170", "0047171", "0047172"
LOST = "0047159"
"""The sampler that the example lost at SG-21."""


def field_blank(**masses_ng: str) -> tuple[Change, ...]:
    """Open a field blank at SG-28 for five minutes on 23 October; it goes into bag RB-1 and holds ``masses_ng``."""
    return (
        *_sampler(BLANK, "FB-1", "field_blank", "RB-1"),
        row_added(
            DEPLOYMENTS,
            sampler_id=BLANK,
            location_id="SG-28",
            placed_at="2025-10-23T08:24",
            retrieved_at="2025-10-23T08:29",
            condition="intact",
            individually_bagged="yes",
            bag_id="RB-1",
            placed_by="FS-1",
            retrieved_by="FS-1",
            scan_file="records/field_sheet_1.txt",
        ),
        *_analysed("04417-060", BLANK, "field_blank", masses_ng),
    )


def replacement(**masses_ng: str) -> tuple[Change, ...]:
    """Put another sampler in the place of the one lost at SG-21, from 28 October to 6 November, in bag RB-2."""
    return (
        *_sampler(REPLACEMENT, "SG-21R", "sample", "RB-2"),
        row_added(
            DEPLOYMENTS,
            sampler_id=REPLACEMENT,
            location_id="SG-21",
            replaces=LOST,
            placed_at="2025-10-28T09:05",
            retrieved_at="2025-11-06T13:20",
            depth_ft="3.0",
            hole_diameter_in="1.0",
            hole_method="slide_hammer",
            sleeve="no",
            closure="foil_and_soil",
            refusal="no",
            condition="intact",
            individually_bagged="yes",
            bag_id="RB-2",
            hole_restored="yes",
            placed_by="FS-1",
            retrieved_by="FS-1",
            scan_file="records/field_sheet_1.txt",
        ),
        *_analysed("04417-061", REPLACEMENT, "sample", masses_ng),
    )


def air_duplicate(**masses_ng: str) -> tuple[Change, ...]:
    """Put a duplicate beside the sampler at IA-02, over the same days, in bag RB-1."""
    return (
        *_sampler(AIR_DUPLICATE, "IA-02D", "field_duplicate", "RB-1"),
        row_added(
            DEPLOYMENTS,
            sampler_id=AIR_DUPLICATE,
            location_id="IA-02",
            duplicate_of="0047128",
            placed_at="2025-10-23T12:36",
            retrieved_at="2025-11-05T11:32",
            condition="intact",
            individually_bagged="yes",
            bag_id="RB-1",
            placed_by="FS-1",
            retrieved_by="FS-2",
            scan_file="records/field_sheet_1.txt",
        ),
        *_analysed("04417-062", AIR_DUPLICATE, "sample", masses_ng),
    )


def _sampler(name: str, label: str, kind: str, bag: str) -> tuple[Change, ...]:
    """List a sampler, and count it in its shipments and its bag."""
    return (
        row_added(
            SAMPLERS,
            sampler_id=name,
            label=label,
            kind=kind,
            sampler_type="T1",
            lot="0925-B",
            prepared_on="2025-10-17",
            shipment_id="SH-O1",
            outcome="used",
        ),
        _one_more(SHIPMENTS, "items_declared", "items_received"),
        _one_more(BAGS, "count_declared", only=bag),
    )


def _one_more(path: str, *columns: str, only: str = "") -> Change:
    def edit(rows: list[Row]) -> list[Row]:
        for row in rows:
            if only in ("", row.get("bag_id")):
                row.update({column: str(int(row[column]) + 1) for column in columns})
        return rows

    return table(path, edit)


def _analysed(lab_sample: str, sampler: str, kind: str, masses_ng: Mapping[str, str]) -> tuple[Change, ...]:
    """Analyse a sampler in batch B2 as sample 04417-027 was: ``masses_ng`` were found, all else below 10 ng."""

    def results(rows: list[Row]) -> list[Row]:
        like = [row for row in rows if row["lab_sample_id"] == "04417-027"]
        return [*rows, *(_result(row, lab_sample, masses_ng) for row in like)]

    def samples(rows: list[Row]) -> list[Row]:
        (like,) = [row for row in rows if row["lab_sample_id"] == "04417-027"]
        return [*rows, like | {"lab_sample_id": lab_sample, "sampler_id": sampler, "type": kind}]

    def controls(rows: list[Row]) -> list[Row]:
        like = [row for row in rows if row["lab_sample_id"] == "04417-027"]
        return [*rows, *(row | {"lab_sample_id": lab_sample} for row in like)]

    return table(LAB_SAMPLES, samples), table(RESULTS, results), table(LAB_QC, controls)


def _result(like: Row, lab_sample: str, masses_ng: Mapping[str, str]) -> Row:
    mass = masses_ng.get(like["analyte_id"], "")
    found = {"result_text": mass, "value": mass, "lab_qualifier": "", "detected": "yes"}
    unseen = {"result_text": f"<{like['rl']}", "value": "", "lab_qualifier": "U", "detected": "no"}
    return like | {"lab_sample_id": lab_sample} | (found if mass else unseen)


def in_the_ground(*samplers: str) -> Change:
    """Take back the retrieval of samplers: they are still at their points."""

    def edit(rows: list[Row]) -> list[Row]:
        for row in rows:
            if row["sampler_id"] in samplers:
                row.update(retrieved_at="", retrieved_by="", bag_id="", condition="", individually_bagged="")
        return rows

    return table(DEPLOYMENTS, edit)
