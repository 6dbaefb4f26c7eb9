"""What must stay inside stays inside: planted private things never reach an output that leaves the house."""

from __future__ import annotations

import re
import sqlite3
import zipfile
from collections.abc import Iterator
from contextlib import closing
from html import unescape
from io import BytesIO
from pathlib import Path

import pytest
from builders import (
    Change,
    cell,
    cells,
    changed,
    content,
    feature_added,
    load,
    removed,
    row_added,
    setting,
    table,
    write,
)
from PIL import Image
from PIL.ExifTags import GPS, IFD
from pypdf import PdfReader

from sitegen.checking import check, check_snapshot
from sitegen.compute.custody.functions import ROLE_COLUMNS
from sitegen.findings.problems import OutputFault, Stopped
from sitegen.pipeline import Built, build, compose, prepare
from sitegen.project.settings import PublishPart
from sitegen.project.tables import TABLES
from sitegen.render.site.pictures import without_metadata
from sitegen.report.assemble import assemble
from sitegen.report.write.publish import (
    ALLOWED,
    CLASSES,
    FIELD_COMMENTS,
    allowed_classes,
    publishable,
    relabel,
    withheld,
)

PHONE, OWNER, ROLE = "555-0142", "Varnhollow", "FS-1"
REMARK = "Cover stone put back by hand, two metres east of the gate post."
CAMERA = "PlantedCamera77"
PHOTO = "photos/sg-35.png"
JPEG = "photos/sg-36.jpg"


def photo_with_position() -> bytes:
    """Return a JPEG whose camera data hold a position and a maker."""
    exif = Image.Exif()
    exif[0x010F] = CAMERA
    place = exif.get_ifd(IFD.GPSInfo)
    place[GPS.GPSLatitudeRef], place[GPS.GPSLatitude] = "N", (43.0, 4.0, 58.765)
    out = BytesIO()
    Image.new("RGB", (40, 30), "grey").save(out, "JPEG", exif=exif)
    return out.getvalue()


def planted(level: str) -> tuple[Change, ...]:
    """Plant a phone number, a name, a position and a remark where the format has room for them."""
    gate = {"type": "Point", "coordinates": [-99.3675, 43.0825]}
    return (
        setting('level = "internal"', f'level = "{level}"\nnarrative_docx = true'),
        cell("field/deployments.csv", "0047102", "comment", REMARK),
        cells("field/deployments.csv", "0047103", x_called=f"{OWNER} on {PHONE}"),
        cells("lab/results.csv", "04417-005+pce", x_asked=f"asked {OWNER}"),
        feature_added(gate, kind="other", name=f"Gate of {OWNER}, {PHONE}", public="no"),
        content("records/note.txt", f"Rang {OWNER}, {PHONE}".encode()),
        content(JPEG, photo_with_position()),
        cells("field/photos.csv", PHOTO, caption="Loading pad"),
        row_added("field/photos.csv", file=JPEG, location_id="SG-36", caption="Pad", alt_text="Grey", publish="yes"),
    )  # fmt: skip


def texts_of(path: Path) -> Iterator[str]:
    """Yield all that a reader can get out of a file, PDF text and attachments included."""
    data = path.read_bytes()
    yield path.name
    yield data.decode("utf-8", "replace")
    yield data.decode("latin-1")
    if path.suffix == ".html":
        yield unescape(re.sub(r"<[^>]+>", "", data.decode("utf-8")))
    if path.suffix == ".pdf":
        reader = PdfReader(BytesIO(data))
        yield from (page.extract_text() for page in reader.pages)
        yield str(reader.metadata)
        yield from (part.decode("utf-8", "replace") for parts in reader.attachments.values() for part in parts)
    if path.suffix == ".gpkg":
        with closing(sqlite3.connect(path)) as base:
            names = [name for (name,) in base.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
            plain = [name for name in names if not name.startswith("rtree_")]
            rows = (row for name in plain for row in base.execute(f'SELECT * FROM "{name}"'))  # noqa: S608
            yield from (str(cell) for row in rows for cell in row)
    if path.suffix in (".xlsx", ".docx", ".zip"):
        with zipfile.ZipFile(path) as packed:
            yield from (packed.read(name).decode("utf-8", "replace") for name in packed.namelist())


@pytest.fixture(scope="module", params=[pytest.param(level, marks=pytest.mark.long) for level in ("client", "public")])
def outside(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Built:
    """Return a report for a level that leaves the house, of a folder with planted private things."""
    root = tmp_path_factory.mktemp("outside")
    return build(write(changed(*planted(request.param)), root / "survey"), root / "out")


def test_what_was_planted_reaches_no_file_of_the_output(outside: Built) -> None:
    """No file holds the phone number, the owner's name, the camera or its position; public: no remark, no role."""
    public = outside.report.meta.publish_level == "public"
    wrong = [PHONE, OWNER, CAMERA, *([REMARK] if public else [])]
    role = re.compile(rf"(?<![\w-]){ROLE}(?![\w-])")
    files = [path for path in outside.out.rglob("*") if path.is_file()]
    assert len(files) > 200
    remark_seen = False
    for path in files:
        for found in texts_of(path):
            assert not [word for word in wrong if word.casefold() in found.casefold()], path
            remark_seen = remark_seen or REMARK in found
            if public and path.suffix in (".html", ".csv", ".json", ".geojson", ".pdf", ".xlsx", ".docx", ".gpkg"):
                assert not role.search(found), path
    assert remark_seen is not public


def test_published_photographs_carry_no_camera_data(outside: Built) -> None:
    """A JPEG with a position is published as its pixels alone."""
    photos = outside.out / "site/photos"
    assert (photos / "sg-36.jpg").is_file()
    for path in photos.iterdir():
        with Image.open(path) as opened:
            assert not opened.getexif(), path
            assert set(opened.info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density", "transparency"}


def test_the_report_says_what_it_leaves_out(outside: Built) -> None:
    """Start page and cover list the classes withheld."""
    start = (outside.out / "site/index.html").read_text("utf-8")
    words = ["review comments and their answers", "photographs not cleared"]
    words += ["codes of the roles"] if outside.report.meta.publish_level == "public" else []
    for named in words:
        assert named in start
        assert any(named in name for name in outside.report.meta.withheld)


@pytest.mark.long
def test_a_private_word_in_an_output_stops_it_before_it_stands(tmp_path: Path) -> None:
    """A name of private/ on a feature for all to see is found in what was written; the last output stays."""
    gate = {"type": "Point", "coordinates": [-99.3675, 43.0825]}
    shown = feature_added(gate, kind="other", name=f"Gate of {OWNER}", public="yes")
    folder = write(changed(*planted("client"), shown), tmp_path / "survey")
    out = tmp_path / "out"
    out.mkdir()
    (out / "build.json").write_text("{}")
    (out / "kept.html").write_text("the last good site")
    with pytest.raises(OutputFault, match=OWNER):
        build(folder, out)
    assert (out / "kept.html").read_text() == "the last good site"


def test_a_private_detail_in_the_record_itself_stops_a_client_build(tmp_path: Path) -> None:
    """The example as it is holds a name and a number in a field comment: no client build."""
    folder = write(changed(setting('level = "internal"', 'level = "client"')), tmp_path / "survey")
    with pytest.raises(Stopped) as stopped:
        build(folder, tmp_path / "out")
    assert "personal-data" in {finding.code for finding in stopped.value.findings}


def test_a_photograph_that_can_t_be_read_is_not_published_as_it_is(tmp_path: Path) -> None:
    """A file that is no picture stops a client build before its camera data would have to be taken out."""
    broken = (*planted("client"), removed(JPEG), content(JPEG, b"\xff\xd8\xff\xe0 not a picture"))
    with pytest.raises(Stopped) as stopped:
        build(write(changed(*broken), tmp_path / "survey"), tmp_path / "out")
    assert ("photo-unreadable", JPEG) in {(f.code, f.where.file) for f in stopped.value.findings}
    with pytest.raises(OutputFault, match=r"sg-36\.jpg"):
        without_metadata(JPEG, b"\xff\xd8\xff\xe0 not a picture")


@pytest.mark.long
def test_a_point_s_own_id_stands_in_no_name_of_a_public_report() -> None:
    """Where points have other names in public, tables, drawings, anchors and duplicates are named by these too."""
    made = (*planted("public"), cells("locations/locations.csv", "SG-45", public_label="P-45"))
    _, report, _ = compose(check_snapshot(changed(*made)))
    assert "P-45" in repr(report.pages)
    assert "SG-45" not in repr((report.pages, report.chapters, report.values, report.exports, report.map))


@pytest.mark.long
def test_a_photograph_named_after_its_point_bears_the_label_of_a_public_report() -> None:
    """Where a point has another name in public, the picture of it is there under that name."""
    named = "photos/SG-36.jpg"
    made = (
        *planted("public"),
        content(named, photo_with_position()),
        cells("locations/locations.csv", "SG-36", public_label="P-36"),
        row_added("field/photos.csv", file=named, location_id="SG-36", caption="Lid", alt_text="Grey", publish="yes"),
    )
    _, made_so_far, _ = prepare(check_snapshot(changed(*made)))
    assert {shown: file for shown, file in made_so_far.photos.items() if shown != file} == {"photos/P-36.jpg": named}
    assert "photos/P-36.jpg" in repr(assemble(made_so_far).pages)


@pytest.mark.parametrize(
    "stated",
    [
        setting('level = "internal"', 'level = "client"'),
        setting('level = "internal"', 'level = "public"'),
        setting("withhold = []", 'withhold = ["uncleared_photos", "review_comments"]'),
    ],
    ids=["client", "public", "withheld"],
)
@pytest.mark.parametrize("empty", ["absent", "header only"])
def test_a_table_without_rows_keeps_its_columns(stated: Change, empty: str) -> None:
    """Where there is no photograph and no comment, what is published has the tables all the same."""
    paths = ("field/photos.csv", "review/comments.csv")
    gone = [removed(path) if empty == "absent" else table(path, lambda _: []) for path in paths]
    whole = load(changed(*gone, stated))
    shown = publishable(whole)
    for name in ("photos", "comments"):
        assert list(shown.frame(name).columns) == list(whole.frame(name).columns)
        assert shown.frame(name).empty


def test_levels_are_allow_lists_that_only_narrow() -> None:
    """What the public may see the client may see, and what the client may see the team may see."""
    assert ALLOWED["public"] <= ALLOWED["client"] <= ALLOWED["internal"] == frozenset(CLASSES)
    assert allowed_classes(PublishPart(level="internal", withhold=["role_codes"])) == frozenset(CLASSES) - {
        "role_codes"
    }
    assert withheld(PublishPart(level="internal", withhold=["cost figures"])) == ("cost figures",)


def test_every_remark_and_every_role_of_the_format_is_under_a_class() -> None:
    """No column of remarks or of roles can be added to the format without a publish level."""
    for spec in TABLES:
        names = spec.column_names
        remarks = {n for n in names if n in ("comment", "note", "remark", "receipt_note")}
        assert remarks == set(FIELD_COMMENTS.get(spec.name, ())), spec.name
        assert {n for n in names if n.endswith(("role", "_by"))} <= set(ROLE_COLUMNS), spec.name


@pytest.mark.long
def test_the_comparison_with_earlier_revisions_stays_inside(tmp_path: Path) -> None:
    """A remark of the previous revision, taken out since, is on no page and in no finding of a public report."""
    gone = "Owner's dog kept the crew from the yard until noon."
    write(changed(*planted("public"), cell("field/deployments.csv", "0047102", "comment", gone)), tmp_path / "first")
    new = (*planted("public"), setting("revision = 1", 'revision = 2\nprevious = "../first"'))
    folder = write(changed(*new), tmp_path / "second")
    _, report, _ = compose(check(folder))
    assert gone not in repr(report)
    assert REMARK not in repr(report)
    assert "changes" not in {page.ref.id for page in report.pages}


@pytest.mark.long
@pytest.mark.parametrize("withheld_too", [False, True])
def test_a_class_withheld_is_left_out_at_the_internal_level_too(withheld_too: bool) -> None:
    """Columns beside the format stand on the pages of rows as received, unless the project withholds them."""
    note = "Beside the format, for us alone"
    setting_of = setting("withhold = []", 'withhold = ["unknown_columns"]')
    made = (cells("field/deployments.csv", "0047103", x_called=note), *((setting_of,) if withheld_too else ()))
    _, report, _ = compose(check_snapshot(changed(*made)))
    shown = {page.ref.id for page in report.pages if note in repr(page)}
    assert shown == (set() if withheld_too else {"file-deployments"})


def test_labels_are_replaced_as_whole_words_and_at_once() -> None:
    """An id that is part of another stays, and two labels may be exchanged."""
    assert relabel(("SG-1, SG-10, XSG-1", {"SG-1": "SG-2"}), {"SG-1": "SG-2", "SG-2": "SG-1"}) == (
        "SG-2, SG-10, XSG-1",
        {"SG-2": "SG-1"},
    )
