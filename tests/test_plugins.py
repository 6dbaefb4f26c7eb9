"""Installed packages add checks, pages and laboratory layouts; one that is broken is told in plain words."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tomllib
from collections.abc import Callable, Iterator, Mapping
from importlib import invalidate_caches
from importlib.resources import files
from pathlib import Path

import pytest
from builders import cell, changed, row_added
from small_delivery import deliver, results
from small_survey import small_survey

from sitegen.archive.make import archive
from sitegen.archive.provenance import dependency_lock, versions
from sitegen.checking import Checked, check, check_snapshot
from sitegen.checks.catalogue import _catalogue, catalogue
from sitegen.findings.problems import Finding, Severity, Where, WrongUse
from sitegen.pipeline import Built, build
from sitegen.plugins import CHECKS, LAYOUTS, PAGES, plugins
from sitegen.project.delivery.rows import Spot, lift
from sitegen.report.assemble import GROUPS
from sitegen.report.outside import outside_pages
from sitegen.report.record.pages import Page, Ref
from sitegen.report.write.context import Context

Install = Callable[..., None]
Entries = Mapping[str, Mapping[str, str]]

WHOLE: Entries = {
    CHECKS: {"labels": "plugin_example.labels"},
    PAGES: {"surfaces": "plugin_example.surfaces:surfaces_page"},
    LAYOUTS: {"blocks": "plugin_example.blocks:blocks"},
}
BLOCKS = b"Compound,Result,Unit\nSample: L-1,,\nPCE,12,ng\nTrichloroethene,<5,ng\nSample: L-2,,\nPCE,7.5,ng\n"
MAPPING = """
[source]
file = "lab/a.csv"
layout = "blocks"
[columns]
analyte_id = "Compound"
result_text = "Result"
unit = "Unit"
[units]
ng = 1
"""


def as_installed(place: Path, entries: Entries, name: str = "sitegen-example", version: str = "1.2") -> None:
    """Write what an installer writes of a package with entry points, and have Python look there."""
    about = place / f"{name.replace('-', '_')}-{version or 0}.dist-info"
    about.mkdir(parents=True)
    told = f"Version: {version}\n" if version else ""
    (about / "METADATA").write_text(f"Metadata-Version: 2.1\nName: {name}\n{told}", "utf-8")
    lines = (f"[{group}]\n" + "".join(f"{n} = {to}\n" for n, to in named.items()) for group, named in entries.items())
    (about / "entry_points.txt").write_text("\n".join(lines), "utf-8")


def forget() -> None:
    """Have the program look for plug-ins anew."""
    invalidate_caches()
    plugins.cache_clear()
    _catalogue.cache_clear()


@pytest.fixture
def install(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Install]:
    """Return what installs a package until the end of the test."""

    def installed(entries: Entries, name: str = "sitegen-example", version: str = "1.2", first: bool = True) -> None:
        place = tmp_path / "installed" / name
        as_installed(place, entries, name, version)
        monkeypatch.setattr(sys, "path", [str(place), *sys.path] if first else [*sys.path, str(place)])
        monkeypatch.setenv("PYTHONPATH", os.pathsep.join(filter(None, sys.path)))
        forget()

    yield installed
    monkeypatch.undo()
    forget()


@pytest.fixture(scope="module")
def extended(example: Path, tmp_path_factory: pytest.TempPathFactory) -> Built:
    """Build a survey of a few points once with all three plug-ins, which are gone afterwards."""
    place = tmp_path_factory.mktemp("extended")
    survey = small_survey(example, place / "survey")
    as_installed(place / "installed", WHOLE)
    with pytest.MonkeyPatch.context() as patch:
        patch.syspath_prepend(str(place / "installed"))
        forget()
        report = build(survey, place / "out")
    forget()
    return report


def broken(name: str, **parts: object) -> str:
    """Return the name of a module that exists in memory alone and has these parts."""
    module = type(sys)(f"broken_{name}")
    vars(module).update(parts)
    sys.modules[module.__name__] = module
    return module.__name__


def entry(**others: object) -> dict[str, object]:
    """Return a sound entry of a catalogue, with some keys changed."""
    texts = {"severity": "flag", "subject": "place", "rule": "A rule.", "do": "Do it.", "source": "A book."}
    return {"code": "odd-one", **texts, **others}


def test_a_check_of_a_package_finds_what_it_looks_for(install: Install) -> None:
    """Its finding stands among ours, in order, under its own code."""
    install(WHOLE)
    found = check_snapshot(changed(cell("locations/locations.csv", "SG-02", "public_label", ""))).findings
    own = [finding for finding in found if finding.code == "labels-missing"]
    assert [(f.subject, f.severity, f.where) for f in own] == [
        ("SG-02", Severity.FLAG, Where("locations/locations.csv", 3, "public_label"))
    ]
    assert list(found) == sorted(found, key=lambda finding: finding.sort_key)


def test_a_decision_on_a_finding_of_a_package_attaches(install: Install) -> None:
    """A decision may name its key; without the package that is a key that names no finding."""
    blank = cell("locations/locations.csv", "SG-02", "public_label", "")
    decision = {"finding_key": "labels-missing:SG-02", "disposition": "accepted", "reason": "known"}
    decided = row_added("review/dispositions.csv", **decision, by_role="LR-1", on="2025-12-11")
    lost = [f.code for f in check_snapshot(changed(blank, decided)).findings if "labels-missing" in f.subject]
    install(WHOLE)
    told = [f.code for f in check_snapshot(changed(blank, decided)).findings if "labels-missing" in f.subject]
    assert (lost, told) == (["disposition-unmatched"], [])


def test_the_page_of_a_package_is_written_as_ours_are(extended: Built) -> None:
    """It is escaped, stands in the navigation, and names the file that it was computed from."""
    html = (extended.out / "site/plugin-surfaces.html").read_text("utf-8")
    assert "Surfaces &lt;b&gt;&amp; covers&lt;/b&gt;" in html
    assert "<b>& covers" not in html
    assert "locations/locations.csv" in html.partition("<main")[2]
    assert "plugin-surfaces.html" in (extended.out / "site/index.html").read_text("utf-8")


def test_the_check_of_a_package_stands_in_the_list_of_checks(extended: Built) -> None:
    """The page of all checks tells its rule and its source."""
    pages = {page.ref.id: page for page in extended.report.pages if page.ref.kind == "page"}
    listed = str(pages["checks"])
    assert "labels-missing" in listed
    assert "The example package&#39;s own." in listed or "The example package's own." in listed


def test_the_record_of_a_build_names_each_plug_in(extended: Built) -> None:
    """The build record tells group, name, package and version."""
    record = json.loads((extended.out / "build.json").read_bytes())
    assert record["plugins"] == [
        {"group": group, "name": name, "package": "sitegen-example", "version": "1.2"}
        for group, named in WHOLE.items()
        for name in named
    ]


def test_a_layout_of_a_package_reads_a_file(install: Install) -> None:
    """Rows under a line that names the sample become results, each with its row and the text as received."""
    install(WHOLE)
    delivery, findings = deliver(BLOCKS, MAPPING)
    assert findings == []
    read = [(row["lab_sample_id"], row["analyte_id"], row["value"], row["rl"]) for row in results(delivery)]
    assert read == [("L-1", "pce", "12.0", ""), ("L-1", "tce", "", "5.0"), ("L-2", "pce", "7.5", "")]
    assert delivery is not None
    assert (delivery.results.numbers, set(delivery.results.columns)) == ([3, 4, 6], {"Result"})


def test_cells_of_a_layout_of_a_package_are_looked_at(install: Install) -> None:
    """The places that it points to are those in which formulas, hidden rows and the like are looked for."""
    install(WHOLE)
    delivery, _ = deliver(BLOCKS, MAPPING)
    assert delivery is not None
    places = lift(delivery.form, delivery.sheet)[0].places
    assert ("lab_sample_id", 1, frozenset({2, 5})) in places
    assert ("result_text", 2, frozenset({3, 4, 6})) in places


def test_a_layout_is_unknown_without_its_package() -> None:
    """The finding names the layouts that there are."""
    delivery, findings = deliver(BLOCKS, MAPPING)
    assert delivery is None
    assert [(f.code, f.expected) for f in findings] == [("mapping-invalid", "input should be 'long' or 'crosstab'")]


def test_the_order_of_installation_changes_nothing(install: Install) -> None:
    """Plug-ins come in the order of their names, whichever package Python meets first."""
    install({CHECKS: {"labels": "plugin_example.labels"}}, "package-a")
    install({CHECKS: {"early": broken("early", CATALOGUE=[], RULES=[])}}, "package-z", first=False)
    assert [plugin.name for plugin in plugins(CHECKS)] == ["early", "labels"]


BROKEN: dict[str, tuple[str, str, Callable[[], str], str]] = {
    "no module": (CHECKS, "odd", lambda: "no_such_module", "cannot be loaded (ModuleNotFoundError"),
    "no name in it": (CHECKS, "odd", lambda: "plugin_example.labels:nothing", "cannot be loaded (AttributeError"),
    "name": (CHECKS, "Odd One", lambda: "plugin_example.labels", "has a name that is not lower-case"),
    "no catalogue": (CHECKS, "odd", lambda: broken("a", RULES=[]), "has no list CATALOGUE"),
    "no rules": (CHECKS, "odd", lambda: broken("b", CATALOGUE=[]), "has no list RULES"),
    "text": (CHECKS, "odd", lambda: broken("c", CATALOGUE=["odd-one"], RULES=[]), "that is no table of keys"),
    "lacks": (CHECKS, "odd", lambda: broken("d", CATALOGUE=[entry(do="")], RULES=[]), "without a text for do"),
    "spare": (CHECKS, "odd", lambda: broken("e", CATALOGUE=[entry(limit=[])], RULES=[]), "not known: limit"),
    "prefix": (CHECKS, "odd", lambda: broken("f", CATALOGUE=[entry(code="one")], RULES=[]), "begin with odd-"),
    "severity": (CHECKS, "odd", lambda: broken("g", CATALOGUE=[entry(severity="bad")], RULES=[]), "severity 'bad'"),
    "subject": (CHECKS, "odd", lambda: broken("h", CATALOGUE=[entry(subject="all")], RULES=[]), "subject 'all'"),
    "varies": (CHECKS, "odd", lambda: broken("i", CATALOGUE=[entry(varies="no")], RULES=[]), "with a varies"),
    "needs": (CHECKS, "odd", lambda: broken("j", CATALOGUE=[entry(needs=[1])], RULES=[]), "with a needs"),
    "twice": (CHECKS, "odd", lambda: broken("k", CATALOGUE=[entry(), entry()], RULES=[]), "is taken, odd-one"),
    "ours": (CHECKS, "seal", lambda: broken("l", CATALOGUE=[entry(code="seal-differs")], RULES=[]), "taken, seal-diff"),
    "no rule": (CHECKS, "odd", lambda: broken("m", CATALOGUE=[entry()], RULES=["r"]), "that is no function"),
    "fails": (CHECKS, "odd", lambda: broken("n", CATALOGUE=[entry()], RULES=[lambda s: s.nothing]), "fails (Attrib"),
    "gives none": (CHECKS, "odd", lambda: broken("o", CATALOGUE=[], RULES=[lambda _: ["x"]]), "is no finding"),
    "not its own": (
        CHECKS, "odd", lambda: broken("p", CATALOGUE=[entry()], RULES=[lambda _: [finding("seal-differs")]]),
        "gives the finding seal-differs",
    ),
    "other severity": (
        CHECKS, "odd", lambda: broken("q", CATALOGUE=[entry()], RULES=[lambda _: [finding("odd-one", Severity.STOP)]]),
        "another severity",
    ),
    "later rule": (
        CHECKS, "odd", lambda: broken("r", CATALOGUE=[], RULES=[], EVALUATION_RULES=[lambda *_: 1 / 0]),
        "fails (ZeroDivisionError: division by zero)",
    ),
}  # fmt: skip


def finding(code: str, severity: Severity = Severity.FLAG) -> Finding:
    """Return a finding made past the catalogue."""
    return Finding(code, severity, "a", Where("project.toml"), "b", "c", "d")


@pytest.mark.parametrize("case", BROKEN)
def test_a_broken_check_is_told(case: str, example: Path, install: Install) -> None:
    """A check that can't be loaded, or is of the wrong shape, is wrong use that names it and its package."""
    group, name, target, told = BROKEN[case]
    install({group: {name: target()}})
    with pytest.raises(WrongUse) as caught:
        check(example)
    assert told in str(caught.value)
    assert f"{group}: {name} of sitegen-example 1.2" in str(caught.value)


PAGES_BROKEN: dict[str, tuple[Callable[[object], object] | str, str]] = {
    "no function": ("text", "is no function"),
    "no page": (lambda _: "text", "gives something that is no Page"),
    "fails": (lambda context: context.nothing, "fails (AttributeError"),  # type: ignore[attr-defined]
    "address": (lambda _: Page(Ref("page", "index"), "A", "B", (), "Data"), "another address"),
    "group": (lambda _: Page(Ref("page", "plugin-odd"), "A", "B", (), "Ours"), "the group 'Ours'"),
    "title": (lambda _: Page(Ref("page", "plugin-odd"), "", "B", (), "Data"), "without a title"),
    "block": (lambda _: Page(Ref("page", "plugin-odd"), "A", "B", ("x",), "Data"), "is no block"),  # type: ignore[arg-type]
}


@pytest.mark.parametrize("case", PAGES_BROKEN)
def test_a_broken_page_is_told(case: str, checked: Checked, install: Install) -> None:
    """A page that can't be made, or is of the wrong shape, is wrong use."""
    target, told = PAGES_BROKEN[case]
    install({PAGES: {"odd": f"{broken('page', make=target)}:make"}})
    assert checked.survey is not None
    assert checked.evaluation is not None
    context = Context(checked.survey, checked.evaluation, checked.findings)
    with pytest.raises(WrongUse) as caught:
        list(outside_pages(context, GROUPS, {}))
    assert told in str(caught.value)


LAYOUTS_BROKEN: dict[str, tuple[Callable[..., object] | str, str]] = {
    "no function": ("text", "is no function"),
    "fails": (lambda *_: 1 / 0, "fails (ZeroDivisionError"),
    "no entries": (lambda *_: [3], "fails (TypeError"),
    "no result": (lambda *_: [{"unit": Spot(2, 1)}], "without result_text or value"),
    "no column of ours": (lambda *_: [{"mass": Spot(2, 1)}], "the column 'mass'"),
    "no spot": (lambda *_: [{"value": "12"}], "is no Spot"),
    "no cell": (lambda *_: [{"value": Spot(2, 9)}], "points to row 2, column 9"),
    "no row": (lambda *_: [{"value": Spot(99, 1)}], "points to row 99, column 1"),
    "text of its own": (lambda *_: [{"value": Spot(3, 2, "13")}], "is not in row 3, column 2"),
}


@pytest.mark.parametrize("case", LAYOUTS_BROKEN)
def test_a_broken_layout_is_told(case: str, install: Install) -> None:
    """A layout that fails, or gives what does not stand in the laboratory's file, is wrong use."""
    target, told = LAYOUTS_BROKEN[case]
    install({LAYOUTS: {"blocks": f"{broken('layout', make=target)}:make"}})
    with pytest.raises(WrongUse) as caught:
        deliver(BLOCKS, MAPPING)
    assert told in str(caught.value)


def test_a_layout_can_not_take_the_place_of_ours(install: Install) -> None:
    """The name of a layout of the program is taken."""
    install({LAYOUTS: {"long": "plugin_example.blocks:blocks"}})
    with pytest.raises(WrongUse, match="has the name of a layout of the program"):
        deliver(BLOCKS, MAPPING)


def test_two_packages_can_not_share_a_name(install: Install) -> None:
    """The error names both packages."""
    install({CHECKS: {"labels": "plugin_example.labels"}}, "package-a")
    install({CHECKS: {"labels": "plugin_example.labels"}}, "package-z")
    with pytest.raises(WrongUse, match=r"of package-z 1\.2 has the name of another one, of package-a"):
        plugins()


def test_a_package_without_a_version_is_told(install: Install) -> None:
    """What could not be named in the record of a build is not used."""
    install(WHOLE, version="")
    with pytest.raises(WrongUse, match="belongs to a package without a name or a version"):
        plugins()


def test_the_command_tells_a_broken_plug_in_in_one_line(example: Path, tmp_path: Path) -> None:
    """Exit code 2, plain words, no trace, nothing written."""
    as_installed(tmp_path / "installed", {PAGES: {"odd": "no_such_module:page"}})
    path = os.pathsep.join([str(tmp_path / "installed"), *filter(None, [os.environ.get("PYTHONPATH")])])
    done = subprocess.run(
        [sys.executable, "-m", "sitegen", "build", str(example), "--out", str(tmp_path / "out")],
        capture_output=True, text=True, encoding="utf-8", env=os.environ | {"PYTHONPATH": path}, check=False,
    )  # fmt: skip
    assert (done.returncode, (tmp_path / "out").exists()) == (2, False)
    assert "the plug-in sitegen.pages: odd of sitegen-example 1.2 cannot be loaded" in done.stderr
    assert "Traceback" not in done.stderr


@pytest.mark.long
def test_an_archive_names_each_package(install: Install, tmp_path: Path, example: Path) -> None:
    """Provenance and dependencies name the package, and a build in another process gives the same."""
    survey = small_survey(example, tmp_path / "survey")
    install(WHOLE)
    bag = archive(survey, tmp_path / "archives").bag
    agents = json.loads((bag / "data/provenance.json").read_bytes())["agent"]
    assert agents["this:sitegen-example"] == {
        "prov:type": "prov:SoftwareAgent",
        "this:version": "1.2",
        "this:plugins": ["sitegen.checks:labels", "sitegen.pages:surfaces", "sitegen.layouts:blocks"],
    }
    assert "sitegen-example==1.2\n" in (bag / "data/dependencies.txt").read_text("utf-8")


def test_nothing_changes_without_plug_ins(built: Built) -> None:
    """No record, page, check or dependency speaks of plug-ins where there are none."""
    assert plugins() == ()
    own = files("sitegen").joinpath("data/checks.toml").read_text("utf-8")
    assert list(catalogue()) == list(tomllib.loads(own))
    assert "plugins" not in json.loads((built.out / "build.json").read_bytes())
    assert not [page for page in built.report.pages if page.ref.id.startswith("plugin-")]
    assert "sitegen-example" not in versions()
    assert b"sitegen-example" not in dependency_lock()
