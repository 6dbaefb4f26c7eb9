"""A placement as it is put together from its row, its sampler and its point, where one of these is not on record."""

from __future__ import annotations

from few_rows import deployed, sampler, survey_of

from sitegen.compute.evaluate import evaluate

POINT = {"location_id": "P-1", "medium": "soil_gas", "surface": "asphalt", "status": "placed"}
ROW = deployed("2025-06-02T08:00", "2025-06-10T08:00")


def told(**tables: list[dict[str, str]]) -> tuple[str, str, str, str]:
    """Return label, kind, medium and surface of the one placement of a survey."""
    (placement,) = evaluate(survey_of({"deployments": [ROW]} | tables)).placements
    return placement.label, placement.kind, placement.medium, placement.surface


def test_what_is_not_on_record_of_a_placement_is_empty() -> None:
    """Without its sampler's row it is a sample under its own number; without its point's it has no medium."""
    whole = {"samplers": [sampler("field_duplicate", label="D-7")], "locations": [POINT]}
    assert told(**whole) == ("D-7", "field_duplicate", "soil_gas", "asphalt")
    assert told(locations=[POINT]) == ("S-1", "sample", "soil_gas", "asphalt")
    assert told(samplers=[sampler()]) == ("S-1", "sample", "", "")
