"""Which folder a command is meant for, and what is said of one that is surely another."""

from __future__ import annotations

from pathlib import Path

import pytest

from sitegen.findings.problems import WrongUse
from sitegen.folders import MOST_NAMED, project_folder


def project(at: Path) -> Path:
    """Make what a project folder is known by."""
    (at / "field").mkdir(parents=True)
    (at / "project.toml").write_text("")
    return at


def said(of: Path | None) -> str:
    with pytest.raises(WrongUse) as refused:
        project_folder(of)
    return str(refused.value)


def test_without_a_name_it_is_the_folder_that_the_command_is_called_in(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(project(tmp_path / "mine"))
    assert project_folder(None).resolve() == tmp_path / "mine"
    monkeypatch.chdir(tmp_path / "mine/field")
    assert said(None).endswith(f"is part of a project folder; give {tmp_path / 'mine'}")


def test_in_a_folder_of_nothing_it_is_said_what_to_do(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    assert said(None).startswith("there is no project.toml here: give the project folder")


def test_a_report_is_known_and_the_project_beside_it_named(tmp_path: Path) -> None:
    report = tmp_path / "mine-report"
    (report / "site").mkdir(parents=True)
    (report / "build.json").write_text("{}")
    assert said(report) == f"{report} is a built report, not its project folder"
    project(tmp_path / "mine")
    assert said(report).endswith(f"not its project folder; give {tmp_path / 'mine'}")


def test_a_kit_is_known_and_the_project_beside_it_named(tmp_path: Path) -> None:
    project(tmp_path / "mine")
    kit = tmp_path / "mine-kit"
    kit.mkdir()
    (kit / "kit.json").write_text("{}")
    assert said(kit) == f"{kit} is a field kit, not its project folder; give {tmp_path / 'mine'}"


def test_an_archive_is_known_and_where_its_record_lies(tmp_path: Path) -> None:
    inside = project(tmp_path / "bag/data/project")
    (tmp_path / "bag/bagit.txt").write_text("")
    assert said(tmp_path / "bag").endswith(f"sitegen verify checks it; its record is in {inside}")
    assert project_folder(inside) == inside


def test_a_parent_names_the_projects_in_it(tmp_path: Path) -> None:
    """The first few of many, in the order of their names."""
    names = [f"p{at}" for at in range(MOST_NAMED + 2)]
    project(tmp_path / names[-1])
    assert said(tmp_path) == f"{tmp_path} is no project folder, but contains one; give {tmp_path / names[-1]}"
    for name in names[:-1]:
        project(tmp_path / name)
    assert f"give {tmp_path / 'p0'} or {tmp_path / 'p1'}" in said(tmp_path)
    assert said(tmp_path).endswith(f"{tmp_path / 'p4'} or one of 2 more")


def test_the_settings_and_a_zip_file_are_no_folder(tmp_path: Path) -> None:
    assert said(project(tmp_path / "mine") / "project.toml").endswith(
        f"settings of a project; give {tmp_path / 'mine'}"
    )
    (tmp_path / "bag.zip").write_bytes(b"")
    assert "unpack it" in said(tmp_path / "bag.zip")


def test_a_folder_that_lacks_its_settings_is_left_to_the_check(tmp_path: Path) -> None:
    """Its tables say that it is meant as a project, and that a stop names the file that is missing."""
    (tmp_path / "mine/field").mkdir(parents=True)
    project(tmp_path / "mine/other")
    assert project_folder(tmp_path / "mine") == tmp_path / "mine"
    assert project_folder(tmp_path / "nowhere") == tmp_path / "nowhere"


def test_a_part_of_a_report_is_known_and_the_project_beside_the_report_named(tmp_path: Path) -> None:
    site = tmp_path / "mine-report/site"
    (site / "sources").mkdir(parents=True)
    (tmp_path / "mine-report/build.json").write_text("{}")
    project(tmp_path / "mine")
    for folder in (site, site / "sources"):
        assert said(folder) == (f"{folder} is part of a built report, not its project folder; give {tmp_path / 'mine'}")
