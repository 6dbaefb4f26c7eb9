"""A survey in several rounds is split so that each round is a survey of its own."""

from __future__ import annotations

import pytest
from rounds_survey import MISSING, NEW, UNLISTED, edited, two_rounds

from sitegen.compute.field.stage import stage
from sitegen.compute.rounds.campaigns import Supplement
from sitegen.compute.rounds.membership import Membership
from sitegen.compute.rounds.split import Part, campaigns, parts
from sitegen.project.load import load_folder
from sitegen.project.survey import Survey
from sitegen.project.tables import CustodyEvent, Departure, Deployment, LabSample, Location, Ticket
from tests.builders import example


def survey_of(folder: object) -> Survey:
    survey, _ = load_folder(folder)  # type: ignore[arg-type]
    assert survey is not None
    return survey


@pytest.fixture(scope="module")
def survey() -> Survey:
    return survey_of(two_rounds())


@pytest.fixture(scope="module")
def rounds(survey: Survey) -> tuple[Part, ...]:
    return parts(survey)


def ids(part: Part, table: str, column: str) -> set[str]:
    return set(part.survey.frame(table)[column])


def test_one_round_is_the_survey_itself() -> None:
    """Without declared rounds nothing is split off or copied."""
    survey = survey_of(example())
    (part,) = parts(survey)
    assert part.survey is survey
    assert part.campaign.name == ""


def test_a_round_is_told_with_its_supplements(survey: Survey) -> None:
    """Two rounds are declared, and the supplement belongs to the second."""
    first, second = campaigns(survey.settings)
    assert (first.id, first.supplements) == ("R1", ())
    assert second.supplements == (Supplement("S1", "Six more points", "winter", "Addendum 1 (invented)"),)


def test_the_rows_of_a_round_follow_its_placements(rounds: tuple[Part, ...]) -> None:
    """Each sampler, bag, shipment, hand-over, laboratory sample and result is in the round of the placement."""
    first, second = rounds
    own = {
        "samplers": "sampler_id", "deployments": "sampler_id", "return_bags": "bag_id", "shipments": "shipment_id",
        "custody": "subject_id", "lab_samples": "lab_sample_id", "results": "lab_sample_id", "lab_qc": "lab_sample_id",
    }  # fmt: skip
    for table, column in own.items():
        assert all(name[:2] not in ("2-", "S-") for name in ids(first, table, column)), table
        assert all(name[:2] in ("2-", "S-") for name in ids(second, table, column)), table


def test_no_row_is_lost(survey: Survey, rounds: tuple[Part, ...]) -> None:
    """Together the rounds have every row that is of a sampler."""
    for table in ("samplers", "deployments", "return_bags", "shipments", "custody", "lab_samples", "results", "lab_qc"):
        assert sum(len(part.survey.frame(table)) for part in rounds) == len(survey.frame(table)), table


def test_a_point_is_in_the_rounds_that_sampled_it(rounds: tuple[Part, ...]) -> None:
    """SG-03 is missing in the second round, the supplement's points in the first; one never placed is of the first."""
    first, second = (ids(part, "locations", "location_id") for part in rounds)
    assert MISSING in first - second
    assert second - first == set(NEW)
    assert "SG-07" in first - second, "not drilled: the first round's plan has it"


def test_records_of_a_day_go_to_the_nearest_round(rounds: tuple[Part, ...]) -> None:
    """Weather, tickets and departures have no round of their own: their day tells."""
    first, second = rounds
    assert {at[:4] for at in first.survey.frame("weather")["at"]} == {"2025"}
    assert {at[:4] for at in second.survey.frame("weather")["at"]} == {"2026"}
    tickets = [{row.ticket[:2] for row in part.survey.rows(Ticket)} for part in rounds]
    assert tickets == [{"OB"}, {"2-", "S-"}]
    assert {row.date[:4] for row in first.survey.rows(Departure)} == {"2025"}


def test_a_compound_that_a_round_did_not_look_for_is_not_on_its_list(rounds: tuple[Part, ...]) -> None:
    """Toluene has results in the first round alone; what a round did not analyse is no gap of it."""
    first, second = (ids(part, "analytes", "analyte_id") for part in rounds)
    assert first - second == {UNLISTED}


def test_the_plan_of_a_round_counts_its_own_points(rounds: tuple[Part, ...]) -> None:
    """The first has the plan's 55, the second its own 53 and the 6 of its supplement."""
    assert [part.survey.plan.locations for part in rounds] == [55, 59]


def test_a_round_without_a_stated_number_of_points_has_none() -> None:
    """The plan's number is the first round's alone, and a sum with an unknown part is unknown."""
    folder = edited("project.toml", lambda text: text.replace(b"locations = 53", b""))
    assert [part.survey.plan.locations for part in parts(survey_of(folder))] == [55, None]


def test_the_narrative_is_about_the_round_reported(rounds: tuple[Part, ...]) -> None:
    """An earlier round has no texts: claims are not held against it."""
    first, second = rounds
    assert not first.survey.texts
    assert second.survey.texts


def test_the_settings_say_which_round_is_reported() -> None:
    """A report on the first round leaves the second out; a supplement's id names its round."""
    for named, expected in (("R1", ["R1"]), ("S1", ["R1", "R2"])):
        text = f'revision = 1\nround = "{named}"\n'.encode()
        folder = edited("project.toml", lambda old, text=text: old.replace(b"revision = 1\n", text))  # type: ignore[misc]
        assert [part.campaign.id for part in parts(survey_of(folder))] == expected


def test_a_round_that_is_only_planned_is_not_reported_yet() -> None:
    """A third round without a placement waits."""
    more = b'\n[[rounds]]\nid = "R3"\n'
    rounds = parts(survey_of(edited("project.toml", lambda old: old + more)))
    assert [part.campaign.id for part in rounds] == ["R1", "R2"]


def test_each_round_is_as_far_as_its_own_records(survey: Survey) -> None:
    """With the second round's laboratory records taken out it waits, while the first is done."""
    kept = [row for row in read_lines("lab/lab_samples.csv") if not row.startswith(("2-", "S-"))]
    folder = edited("lab/lab_samples.csv", lambda _: "".join(kept).encode())
    first, second = parts(survey_of(folder))
    assert len(first.survey.frame("results")) == 1386
    assert stage(first.survey) == "returned"
    assert not len(second.survey.frame("results"))
    assert len(survey.frame("results")) == 1386 + 1491


def read_lines(path: str) -> list[str]:
    return two_rounds().files[path].content.decode().splitlines(keepends=True)


def test_what_belongs_to_no_round_in_particular_belongs_to_each(survey: Survey) -> None:
    """A moment that is not known is every round's; a method blank is its batch's."""
    of = Membership(survey, ("R1", "R2", "S1"))
    assert of.on_day(float("nan")) == {"R1", "R2", "S1"}
    blanks = {
        row.lab_sample_id: of.lab_samples[row.lab_sample_id] for row in survey.rows(LabSample) if not row.sampler_id
    }
    assert {next(iter(found)) for name, found in blanks.items() if name.startswith("2-")} == {"R2"}
    assert {next(iter(found)) for name, found in blanks.items() if name.startswith("S-")} == {"S1"}


def test_an_event_is_of_the_round_of_what_it_is_about(survey: Survey) -> None:
    """Hand-overs of a shipment are its round's; of something unknown, every round's."""
    of = Membership(survey, ("R1", "R2", "S1"))
    event = next(row for row in survey.rows(CustodyEvent) if row.subject_id == "2-SH-O1")
    assert of.subject(event) == {"R2"}
    assert of.subject(event._replace(subject_id="nothing")) == {"R1", "R2", "S1"}


def test_a_shipment_with_samplers_of_two_rounds_is_in_both() -> None:
    """The samplers of the supplement may have come with those of its round; nothing is left out of either."""
    folder = edited("field/samplers.csv", lambda text: text.replace(b"S-SH-O1", b"SH-O1"))
    first, second = parts(survey_of(folder))
    assert "SH-O1" in ids(first, "shipments", "shipment_id") & ids(second, "shipments", "shipment_id")


def test_a_departure_follows_the_samplers_it_affects(survey: Survey) -> None:
    """A departure that names a sampler of the second round is its, whatever its day."""
    of = Membership(survey, ("R1", "R2", "S1"))
    row = survey.rows(Departure)[0]
    assert of.departure(row) == {"R1"}
    assert of.departure(row._replace(affected_ids="2-0047113")) == {"R2"}


def test_records_of_the_rounds_keep_their_rows(survey: Survey, rounds: tuple[Part, ...]) -> None:
    """A row of a round says where it stands in the file, as it does in the whole."""
    whole = {row.sampler_id: row.origin for row in survey.rows(Deployment)}
    for part in rounds:
        assert all(whole[row.sampler_id] == row.origin for row in part.survey.rows(Deployment))
        assert all(row.origin.row > 1 for row in part.survey.rows(Location))
