"""Rules on review, signatures, custody rows and roles, each with the rows that they take and those that they leave."""

from __future__ import annotations

import pytest
from builders import Row, changed, load, text
from few_rows import deployed, sampler, survey_of, told
from journeys import folder

from sitegen.checks import custody, identity, review, roles
from sitegen.project.survey import Survey

BY_REVIEWER = {"text": "t", "by_role": "LR-1"}


def comments(*rows: Row, **tables: list[Row]) -> Survey:
    numbered = [{"comment_id": f"C-{n}"} | BY_REVIEWER | row for n, row in enumerate(rows, start=1)]
    return survey_of({"comments": numbered} | tables)


def test_a_comment_that_must_be_met_is_open_until_it_is_answered() -> None:
    """Without a state it is open too; one of no stated weight needs an answer as well, and is no must."""
    survey = comments(
        {"class": "must_fix", "state": "open", "target": "text:site_history"},
        {"class": "must_fix", "target": "compound:pce"},
        {"class": "must_fix", "state": "answered", "response": "r"},
        {"class": "must_fix", "state": "withdrawn"},
        {"class": "question", "state": "open", "target": "location:SG-01"},
        {"state": "", "target": "return_bags"},
        {"class": "editorial", "state": "accepted", "target": ""},
        {"class": "editorial", "state": "answered", "response": "r"},
        analytes=[{"analyte_id": "pce", "name": "Tetrachloroethene", "cas": ""}],
    )
    assert told(review.must_fix(survey)) == [
        "comment C-1 (2 state): an open must-fix comment on the section Site history",
        "comment C-2 (3 state): an open must-fix comment on compound Tetrachloroethene",
    ]
    assert told(review.others_open(survey)) == [
        "comment C-5 (6 state): an open comment on location SG-01",
        "comment C-6 (7 state): an open comment on return_bags",
        "comment C-7 (8 response): no response on the report",
    ]


def test_a_comment_is_answered_by_another_role() -> None:
    """Of two blank roles nothing is known."""
    survey = comments({"responded_by": "LR-1"}, {"responded_by": "PM-1"}, {"by_role": "", "responded_by": ""})
    assert told(review.own_comments(survey)) == ["comment C-1 (2 responded_by): made and answered by LR-1"]


def test_a_comment_is_about_something_that_is_listed() -> None:
    """A kind that has no list, and a kind without a name, are about nothing that could be missing."""
    targets = ("location:P-1", "location:P-11", "compound:xyz", "page:summary", "location", "sampler:S-9", "bag:B-1")
    survey = comments(
        *({"target": target} for target in targets),
        locations=[{"location_id": "P-1"}], analytes=[{"analyte_id": "pce", "name": "P", "cas": ""}],
        samplers=[sampler()],
    )  # fmt: skip
    found = list(review.targets_known(survey))
    assert told(found) == [
        "comment C-2 (3 target): the location 'P-11'",
        "comment C-3 (4 target): the compound 'xyz'",
        "comment C-6 (7 target): the sampler 'S-9'",
    ]
    assert [f.do.startswith("write ") for f in found] == [True, False, True]
    assert found[0].do == "write location:P-1"


SIGNED = {"role": "LR-1", "signed_at": "2025-12-30T10:00", "revision": "1"}


def issued(*rows: Row, revision: int = 1, status: str = "issued") -> Survey:
    """Return an issue that PM-1 and LR-1 have to sign, with rows of signoff.csv."""
    base = changed(
        text("project.toml", "revision = 1", f"revision = {revision}"),
        text("project.toml", 'status = "draft"', f'status = "{status}"\n'),
        text("project.toml", "[lab]", '[signoff]\nroles_required = ["PM-1", "LR-1"]\n[lab]'),
        folder=folder({"signoff": list(rows), "deployments": [deployed("2025-06-02T08:00", "", placed_by="PM-1")]}),
    )
    return load(base)


def test_an_issue_is_signed_by_each_role_with_the_moment_and_for_its_revision() -> None:
    """A row without its moment, and one of another revision, sign nothing; a draft needs no signature."""
    both = (SIGNED, SIGNED | {"role": "PM-1"})
    assert [f.found for f in review.sign_offs(issued(*both))] == []
    for rows, missing in (
        ((SIGNED,), "PM-1"),
        ((SIGNED, SIGNED | {"role": "PM-1", "signed_at": ""}), "PM-1"),
        ((SIGNED, SIGNED | {"role": "PM-1", "revision": "2"}), "PM-1"),
        ((), "PM-1, LR-1"),
    ):
        (found,) = review.sign_offs(issued(*rows))
        assert found.found == f"status issued without a sign-off by {missing}"
        assert list(review.sign_offs(issued(*rows, status="review"))) == []


def test_a_signature_holds_for_its_content_and_another_revision_s_is_left_alone() -> None:
    survey = issued(SIGNED | {"content_digest": "0" * 64}, SIGNED | {"revision": "2"}, SIGNED | {"role": "PM-1"})
    assert told(review.signatures_hold(survey)) == [
        "signoff revision 1+LR-1 (2 content_digest): the digest 00000000",
        "signoff revision 1+PM-1 (4 content_digest): the digest none",
    ]


def test_what_a_role_lacks_to_a_signature_is_said() -> None:
    """No row; a row for an earlier revision; one without its moment; one for other content."""
    rows = (
        SIGNED | {"revision": "0"},
        SIGNED | {"role": "PM-1", "signed_at": ""},
    )
    assert told(review.signatures_missing(issued(*rows))) == [
        "signoff revision 1+PM-1 (3 signed_at): a row for PM-1 without the time of signing",
        "signoff revision 1+LR-1 (2 revision): LR-1 on record for revision 0 only",
    ]
    other = issued(SIGNED | {"content_digest": "f" * 64})
    assert told(review.signatures_missing(other)) == [
        "signoff revision 1+PM-1 (None None): no row for PM-1",
        "signoff revision 1+LR-1 (2 content_digest): LR-1 signed a different version (digest ffffffff)",
    ]


def test_who_placed_or_retrieved_does_not_sign_this_revision() -> None:
    rows = (SIGNED, SIGNED | {"role": "PM-1"}, SIGNED | {"role": "PM-1", "revision": "2"})
    assert told(review.signer_independent(issued(*rows))) == [
        "signoff revision 1+PM-1 (3 role): PM-1, who installed or retrieved samplers"
    ]


def test_a_revision_after_the_first_has_a_reason() -> None:
    assert list(review.revision_explained(issued())) == []
    (found,) = review.revision_explained(issued(revision=2))
    assert (found.subject, found.found) == ("revision 2", "revision 2 without a reason in review/changes.csv")


# --- custody -----------------------------------------------------------------------------------


def event(number: int, kind: str, name: str, what: str, **others: str) -> Row:
    about = {"event_id": f"E-{number}", "subject_kind": kind, "subject_id": name, "event": what}
    return about | {"at": f"2025-06-1{number}T08:00", "signature": "ink"} | others


def test_a_custody_row_is_about_something_listed_where_a_list_is_there() -> None:
    """S-9 is not listed; of bags there is no list, so that B-9 can't be missing from it."""
    rows = [
        event(1, "sampler", "S-1", "stored"),
        event(2, "sampler", "S-9", "stored"),
        event(3, "bag", "B-9", "stored"),
    ]
    survey = survey_of({"samplers": [sampler()], "custody": rows})
    assert told(custody.subjects_known(survey)) == ["event E-2 (3 subject_id): the sampler 'S-9'"]
    bags = survey_of({"return_bags": [{"bag_id": "B-1"}], "custody": rows})
    assert told(custody.subjects_known(bags)) == ["event E-3 (4 subject_id): the bag 'B-9'"]


def test_placing_and_retrieving_by_custody_are_those_of_the_field_sheet() -> None:
    """To the minute; a sampler that was placed nowhere, and one of which the sheet gives no retrieval."""
    rows = [
        event(1, "sampler", "S-1", "placed", at="2025-06-02T08:00"),
        event(2, "sampler", "S-1", "retrieved", at="2025-06-10T08:01"),
        event(3, "sampler", "S-2", "placed"),
        event(4, "sampler", "S-3", "retrieved"),
        event(5, "bag", "S-1", "retrieved"),
        event(6, "sampler", "S-7", "retrieved"),
    ]
    survey = survey_of({
        "samplers": [sampler(sampler_id=f"S-{n}") for n in (1, 2, 3)],
        "deployments": [
            deployed("2025-06-02T08:00", "2025-06-10T08:00"), deployed("2025-06-02T08:00", "", sampler_id="S-3")
        ],
        "custody": rows,
    })  # fmt: skip
    found = list(custody.events_agree(survey))
    assert told(found) == [
        "event E-3 (4 at): sampler S-2 placed at 13 June 2025, 08:00",
        "event E-2 (3 at): sampler S-1 retrieved at 10 June 2025, 08:01",
        "event E-4 (5 at): sampler S-3 retrieved at 14 June 2025, 08:00",
    ]
    assert [f.expected.removesuffix(", as in deployments.csv") for f in found] == [
        "no deployment on record", "10 June 2025, 08:00", "no such time on record"
    ]  # fmt: skip


def test_who_takes_over_is_who_it_was_given_to() -> None:
    """Of B-1 another took; of B-2 the one named; of B-3 nobody was named; of B-4 nobody took; B-5 was given twice."""
    rows: list[Row] = []
    for name, to, by in (("B-1", "CR", "LB"), ("B-2", "CR", "CR"), ("B-3", "", "CR"), ("B-4", "CR", "")):
        rows.append(event(1, "bag", name, "relinquished", to_role=to, by_role="FS", event_id=f"{name}-1"))
        rows.append(event(2, "bag", name, "accepted", by_role=by, event_id=f"{name}-2"))
    rows += [event(3, "bag", "B-5", "relinquished", to_role="CR"), event(4, "bag", "B-5", "released", by_role="LB")]
    found = told(custody.takers_agree(survey_of({"custody": rows})))
    assert found == ["event B-1-1 (2 to_role): bag B-1 handed to CR, received by LB (B-1-2)"]


def test_a_seal_arrives_whole_and_each_bag_has_its_own() -> None:
    """Of shipments and of events; a bag's number is missing, another's is that of the first, and one was read."""
    survey = survey_of({
        "shipments": [{"shipment_id": f"R-{n}", "direction": "return", "seal_condition": word}
                      for n, word in enumerate(("intact", "broken", "absent", ""))],
        "custody": [event(1, "bag", "B-1", "seal_checked", seal_condition="absent", seal_number="7"),
                    event(2, "bag", "B-2", "seal_checked", seal_condition="intact", seal_number="")],
        "return_bags": [{"bag_id": "B-1", "seal_applied": "7"}, {"bag_id": "B-2", "seal_applied": "7"},
                        {"bag_id": "B-3"}, {"bag_id": "B-4"}],
    })  # fmt: skip
    assert told(custody.seals_whole(survey)) == [
        "shipment R-1 (3 seal_condition): seal broken on R-1",
        "shipment R-2 (4 seal_condition): seal absent on R-2",
        "event E-1 (2 seal_condition): seal absent on bag B-1",
    ]
    assert told(custody.seals_of_bags(survey)) == [
        "bag B-3 (4 seal_applied): no seal number on record",
        "bag B-4 (5 seal_applied): no seal number on record",
        "bag B-2 (3 seal_applied): the seal number of another bag",
        "bag B-2 (3 seal_applied): no seal number read at receipt on record",
    ]


# --- roles at a point, ids ---------------------------------------------------------------------


def test_a_duplicate_stands_beside_a_primary_and_both_tables_say_so() -> None:
    """S-2 beside S-1; S-3 of a duplicate; S-4 of itself; S-5 elsewhere; S-6 by its kind alone; S-7 by its row alone."""
    of = {"S-1": "", "S-2": "S-1", "S-3": "S-2", "S-4": "S-4", "S-5": "S-1", "S-6": "", "S-7": "S-1", "S-8": "S-1"}
    kinds = dict.fromkeys(of, "field_duplicate") | {"S-1": "sample", "S-7": "sample", "S-8": "spare"}
    survey = survey_of({
        "samplers": [sampler(kind, sampler_id=name) for name, kind in kinds.items()],
        "deployments": [
            deployed("2025-06-02T08:00", "", sampler_id=name, duplicate_of=other,
                     location_id="P-2" if name == "S-5" else "P-1")
            for name, other in of.items()
        ],
    })  # fmt: skip
    assert [f"{f.code} {f.subject}" for f in roles.duplicates_beside(survey)] == [
        "duplicate-of-duplicate S-3", "duplicate-of-duplicate S-4", "duplicate-elsewhere S-5",
        "duplicate-half-said S-6", "duplicate-half-said S-7",
    ]  # fmt: skip


def test_blanks_and_spares_are_not_placed_and_a_field_blank_is_opened() -> None:
    """S-1 a trip blank, S-2 a spare, S-3 a field blank with a role; S-4 was opened nowhere, S-5 came back unused."""
    kinds = {"S-1": "trip_blank", "S-2": "spare", "S-3": "field_blank", "S-4": "field_blank", "S-5": "field_blank"}
    survey = survey_of({
        "samplers": [sampler(kind, sampler_id=name, outcome="returned_unused" if name == "S-5" else "")
                     for name, kind in kinds.items()],
        "deployments": [deployed("2025-06-02T08:00", "", sampler_id=name) for name in ("S-1", "S-2")]
                       + [deployed("2025-06-02T08:00", "", sampler_id="S-3", replaces="S-1")],
    })  # fmt: skip
    assert told(roles.blanks_not_placed(survey)) == [
        "sampler S-1 (2 sampler_id): a trip blank installed at P-1",
        "sampler S-2 (3 sampler_id): a spare installed at P-1",
    ]
    assert told(roles.field_blanks(survey)) == [
        "sampler S-3 (4 replaces): a field blank with replaces S-1",
        "sampler S-4 (5 kind): a field blank without a row in field/deployments.csv",
    ]


@pytest.mark.parametrize(
    ("written", "hint"),
    [
        ("0047103", "write 0047103 in f.csv if its label reads so: leading zeros count"),
        ("103", "write 0103: leading zeros count"),
        ("SG-12", "check the original: SG-21 differs by two transposed digits"),
        ("sg-21", "write SG-21"),
        ("SG_021", "write SG-21 if that is intended"),
        ("SG-99", "correct it, or add its row to f.csv"),
        ("0", "write 000 if that is intended"),
    ],
)
def test_what_an_id_was_meant_to_be_is_offered_by_its_nearest_reading(written: str, hint: str) -> None:
    """Zeros first, then two digits that changed places, then case, then signs."""
    known = {"47103", "0103", "SG-21", "000"} - {written}
    assert identity._hint(written, known, "f.csv") == hint


@pytest.mark.parametrize(
    ("one", "other", "swapped"),
    [("12", "21", True), ("123", "321", False), ("1234", "2143", False), ("12", "12", False), ("12", "13", False),
     ("12", "123", False), ("1323", "3123", True)],
)  # fmt: skip
def test_two_neighbours_that_changed_places(one: str, other: str, *, swapped: bool) -> None:
    assert identity._neighbours_swapped(one, other) is swapped
