"""Proposed qualifiers follow from findings, and change no number."""

from __future__ import annotations

from sitegen.checking import Checked


def test_each_kind_of_proposal_is_made(checked: Checked) -> None:
    """Toluene of bag RB-2 gets J+, a result above the calibration J, results of a low surrogate J- and UJ."""
    ev = checked.evaluation
    assert ev is not None
    by_code: dict[str, set[str]] = {}
    for proposed in ev.proposed:
        by_code.setdefault(proposed.key.partition(":")[0], set()).add(proposed.qualifier)
    assert by_code["trip-blank-detection"] == {"J+"}
    assert by_code["above-calibration"] == {"J"}
    assert by_code["surrogate-out"] == {"J-", "UJ"}
    assert by_code["duplicate-differs"] == {"J"}


def test_proposals_change_no_number(checked: Checked) -> None:
    """Every result with a proposal is still what the laboratory stated."""
    ev = checked.evaluation
    assert ev is not None
    store = ev.store.set_index(["lab_sample_id", "analyte_id"])
    for proposed in ev.proposed:
        row = store.loc[(proposed.lab_sample_id, proposed.analyte_id)]
        assert proposed.qualifier != row["lab_qualifier"] or proposed.qualifier in ("J", "J-", "UJ")
        assert bool(row["detected"]) == (row["result_text"][0] not in "<N")
