"""The function of a role comes from the record, never from its code, and several of one function are told apart."""

from __future__ import annotations

from builders import Change, cell, cells, changed, content, example, load, removed, row_added, setting, table
from small_delivery import simple

from sitegen.compute.custody.functions import role_functions, role_words
from sitegen.project.folder import Folder
from sitegen.report.write.words import lexicon

SIGNOFF, COMMENTS, DISPOSITIONS = "review/signoff.csv", "review/comments.csv", "review/dispositions.csv"


def bare(*edits: Change) -> Folder:
    """Return the example with the roles that its settings state taken out."""
    stated = Change("project.toml", lambda text: text.replace(b"[roles]", b"[x_roles]"))
    return changed(stated, *edits)


def words(folder: Folder) -> dict[str, str]:
    """Return what stands for each code of a folder."""
    return role_words(load(folder), lexicon("labels")["function"])


def test_each_role_of_the_example_keeps_its_function() -> None:
    """Two of the crew and two of the laboratory are numbered; carrier, lead and reviewer are one each."""
    assert words(example()) == {
        "FS-1": "crew 1",
        "FS-2": "crew 2",
        "CR": "carrier",
        "LB-1": "laboratory 1",
        "LB-2": "laboratory 2",
        "PM-1": "project lead",
        "LR-1": "licensed reviewer",
    }


def test_the_record_alone_tells_as_much_as_it_shows() -> None:
    """Where the settings state nothing, who signs is a signatory, who commented a reviewer; no lead is guessed."""
    found = words(bare())
    assert (found["PM-1"], found["LR-1"], found["CR"], found["FS-2"]) == ("signatory", "reviewer", "carrier", "crew 2")


def test_a_licence_on_a_sign_off_makes_a_licensed_reviewer() -> None:
    """The licence is on record with the sign-off; without it the role is a reviewer by its comments."""
    signed = row_added(SIGNOFF, revision="1", role="LR-1", content_digest="0" * 64, licence_ref="EX-1")
    assert words(bare(signed))["LR-1"] == "licensed reviewer"


def test_a_role_of_which_nothing_is_on_record_is_a_role() -> None:
    """Who only decided a finding is a role; two such roles are told apart by number."""
    decided = {"disposition": "accepted", "reason": "read", "on": "2025-12-11"}
    one = row_added(DISPOSITIONS, finding_key="a:b", by_role="QQ-7", **decided)
    two = row_added(DISPOSITIONS, finding_key="a:c", by_role="QQ-8", **decided)
    assert words(bare(one))["QQ-7"] == "a role"
    found = words(bare(one, two))
    assert (found["QQ-7"], found["QQ-8"]) == ("role 1", "role 2")


def test_a_function_does_not_follow_from_the_code() -> None:
    """With the crew's codes exchanged for those of others, words and numbers follow what was done, in order."""
    turned = {"FS-1": "PM-9", "FS-2": "AA-1"}
    edits = tuple(
        table(path, lambda rows: [{k: turned.get(v, v) for k, v in row.items()} for row in rows])
        for path in ("field/deployments.csv", "field/return_bags.csv", "field/custody.csv")
    )
    found = words(bare(*edits))
    assert (found["PM-9"], found["AA-1"]) == ("crew 1", "crew 2")


def test_an_organisation_that_the_settings_name_tells_laboratory_and_client() -> None:
    """Who acts for the client, and who acts for the laboratory without receiving anything, have their functions."""
    acted = cells(
        "field/custody.csv", "E-0031", by_role="KX-1", organisation="Ostrel Bend Redevelopment Board (invented)"
    )
    assert words(bare(acted))["KX-1"] == "client"
    assert words(bare(cell("field/custody.csv", "E-0055", "event", "stored")))["LB-2"] == "laboratory 2"


def test_without_optional_tables_a_required_role_has_a_word() -> None:
    """Comments and signatures may be absent: a role that must sign is a signatory, the only one without a number."""
    alone = setting('roles_required = ["PM-1", "LR-1"]', 'roles_required = ["ZZ-1"]')
    found = role_functions(load(bare(removed(COMMENTS), removed(SIGNOFF), alone)))
    assert found["ZZ-1"] == ("signatory", 0)


def test_who_confirmed_a_mapping_is_a_role_like_every_other() -> None:
    """A code that stands under [confirmed] alone has the function that the settings state, else none."""
    confirmed = simple(rest='[confirmed]\nmapping = "QQ-7"\ncontrol = "QQ-8"').encode()
    mapped = (content("lab/a.map.toml", confirmed), content("lab/a.csv", b"s,c,r,u\n"))
    found = words(bare(*mapped))
    assert (found["QQ-7"], found["QQ-8"]) == ("role 1", "role 2")
    stated = Change("project.toml", lambda text: text.replace(b"[roles]", b'[roles]\nQQ-7 = "reviewer"'))
    assert words(changed(stated, *mapped))["QQ-7"] == "reviewer"
