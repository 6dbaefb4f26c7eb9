"""A small invented report for the tests of the writers, with hostile text where asked for."""

from __future__ import annotations

from dataclasses import replace

from sitegen.report.record.maps import MapData, MapLayer, MapPoint, MapValue
from sitegen.report.record.pages import (
    Block,
    Callout,
    Cell,
    Chapter,
    Column,
    Facts,
    Figure,
    MapFrame,
    Mark,
    Meta,
    Page,
    Photo,
    Prose,
    Quote,
    Ref,
    Report,
    Section,
    Source,
    Table,
    Tile,
    Tiles,
)

HOSTILE = """<script>alert("x")</script>{{ 7 * 7 }}{% raw %}</title>"onload='x' &lt;b&gt; \x00\x1b=1+1"""
"""Markup, template syntax, attribute breakers, control characters and a formula."""

PNG = bytes.fromhex(
    "89504e470d0a1a0a0000000d4948445200000001000000010802000000907753de0000000c4944415408d763f8cfc000000301"
    "0100c9fe92ef0000000049454e44ae426082"
)
"""One red pixel."""

COMPOUNDS = (
    ("pce", "Tetrachloroethene"),
    ("tce", "Trichloroethene"),
    ("c12dce", "cis-1,2-Dichloroethene"),
    ("vc", "Vinyl chloride"),
    ("benzene", "Benzene"),
    ("naphthalene", "Naphthalene"),
)

TRIP = Mark(
    "trip blank",
    "The trip blank of the same return bag holds this compound at more than a fifth of the result.",
    "trip-blank-hit:BAG-2",
)
WATER = Mark("water", "Water stood in the vial when it was opened.", "water-inside:S-0007")
ABOVE = Mark("above cal.", "The result lies above the highest calibration point.")

SVG = """<?xml version="1.0"?><svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 600 80" width="100%">
<defs><clipPath id="c"><rect width="600" height="80"/></clipPath></defs>
<g clip-path="url(#c)"><rect id="bar" x="10" y="20" width="380" height="24" fill="#e3dcc4"/>
<rect x="390" y="20" width="150" height="24" fill="#1d5c63"/>
<text x="16" y="37" font-size="13" font-family="sans-serif" fill="#1b2426">in place, unattended</text>
<text x="396" y="37" font-size="13" font-family="sans-serif" fill="#ffffff">held by CR</text></g></svg>"""


def sample_report(hostile: str = "", locations: int = 4, **changes: object) -> Report:
    """Return the report; ``hostile`` is put into every kind of free text there is.

    ``changes`` replace fields of the report.
    """
    names = [f"SG-{number:02}" for number in range(1, locations + 1)]
    pages = (
        start_page(names, hostile),
        map_page(names),
        findings_page(hostile),
        checks_page(),
        glossary_page(),
        *(compound_page(index, names) for index in range(len(COMPOUNDS))),
        *(location_page(index, names, hostile) for index in range(len(names))),
        sampler_page(hostile),
    )
    report = Report(
        meta=sample_meta(hostile),
        pages=pages,
        chapters=(Chapter("summary", "Summary", pages[0].blocks),),
        map=sample_map(names),
        exports=(),
        groups=("Overview", "Results", "Quality"),
    )
    return replace(report, **changes)


def sample_files() -> dict[str, bytes]:
    """Return the extra files that the sample's pages link to."""
    stub = '<!doctype html><html lang="en"><title>Map</title><p>Map stub</p></html>'
    return {
        "photos/hole 1.png": PNG,
        "map/index.html": stub.encode(),
        "downloads/results.csv": b"location_id,text\r\n",
    }


def sample_meta(hostile: str = "") -> Meta:
    return Meta(
        project_id="KD-2025",
        title=f"Passive soil-gas survey, Former Kesterly Depot{hostile}",
        site=f"Former Kesterly Depot, Ostrel Bend (invented){hostile}",
        client="Ostrel Bend Redevelopment Board (invented)",
        prepared_by="Example Field Group (invented)",
        revision=2,
        status_word="Draft for review",
        report_date="2025-12-05",
        digest="8d1f0c37aa99b2440e55",
        publish_level="client",
        tool="sitegen 0.1.0",
        notices=(f"This is a draft: 3 findings are open.{hostile}",),
    )


def start_page(names: list[str], hostile: str) -> Page:
    blocks: tuple[Block, ...] = (
        Tiles(
            (
                Tile("57", "Soil-gas points", "54 recovered and analysed", Ref("page", "checks")),
                Tile("2", "Likely source areas", "chlorinated ethenes; fuel aromatics"),
                Tile("3", "Open findings", "1 hold, 2 flags", Ref("page", "findings")),
                Tile("61 %", "Non-detects", "of 1,026 results"),
            )
        ),
        Callout(
            "hold",
            "Three findings are open",
            f"An issue is refused until they are closed.{hostile}",
            findings(),
        ),
        Section(
            "what",
            "What was found",
            (
                Prose(
                    "Tetrachloroethene mass is highest beside the **laundry**, and falls towards the "
                    "south-east along the sewer trench. [Details](compounds/pce.html), "
                    "[outside](https://example.org/a), <https://example.org/b>, ![x](http://example.org/p.png)"
                    f"\n\n# A heading from a text file\n\n* one\n* two\n\n{hostile}"
                ),
                MapFrame("Map of mass per sampler", "pce", tall=True),
                results_table("highest", "Highest results", names, hostile),
            ),
        ),
        Section(
            "sure",
            "How sure this is",
            (
                Callout("caution", "Mass is not concentration", "Results are *ng per sampler*."),
                Section("blanks", "Blanks", (Prose("One trip blank held toluene."),)),
            ),
        ),
    )
    return Page(
        Ref("page", "start"),
        "Summary",
        "What was found, where, and how sure it is.",
        blocks,
        group="Overview",
        search="Tetrachloroethene plume and fuel aromatics",
    )


def findings() -> tuple[Cell, ...]:
    return (
        Cell("Trip blank of BAG-2 holds toluene", Ref("finding", "trip-blank-hit:BAG-2"), tone="flag"),
        Cell("No such finding", Ref("finding", "nowhere")),
    )


def map_page(names: list[str]) -> Page:
    blocks = (
        MapFrame("Map of all compounds", tall=True),
        results_table("points", "Points on the map", names, ""),
    )
    return Page(Ref("page", "map"), "Map", "Every point and compound.", blocks, group="Overview")


def findings_page(hostile: str) -> Page:
    columns = (
        Column("what", "Finding"),
        Column("severity", "Severity"),
        Column("found", "Found", kind="wide"),
    )
    keys = (("trip-blank-hit:BAG-2", "flag"), ("water-inside:S-0007", "flag"), ("seal-differs:BAG-1", "hold"))
    rows = tuple(
        (
            Cell(key, Ref("finding", key)),
            Cell(tone.capitalize(), tone=tone),
            Cell(f"Seal applied 004417, read 004471 at the laboratory's receipt desk.{hostile}"),
        )
        for key, tone in keys
    )
    table = Table(
        "findings", "All findings", columns, rows, filters=("severity", "what"), sources=(Source("every table"),)
    )
    empty = Table("closed", "Closed findings", columns, (), empty="No finding is closed.")
    return Page(Ref("page", "findings"), "Findings", "What the checks have to say.", (table, empty), group="Quality")


def checks_page() -> Page:
    columns = (Column("code", "Check"), Column("rule", "Rule", kind="wide"), Column("ok", "Holds"))
    rows = tuple(
        (
            Cell(code, Ref("check", code)),
            Cell("Compared with the plan of work."),
            Cell(ok.capitalize(), tone=ok),
        )
        for code, ok in (("trip-blank-hit", "no"), ("seal-differs", "partly"), ("count-differs", "yes"))
    )
    return Page(Ref("page", "checks"), "Checks", "", (Table("checks", "Checks", columns, rows),), group="Quality")


def glossary_page() -> Page:
    facts = Facts(
        (
            ("Trip blank", Cell("A sampler that travels but is never opened.", Ref("term", "trip blank"))),
            ("Non-detect", Cell("A result below its reporting limit.")),
        )
    )
    return Page(Ref("page", "glossary"), "Glossary", "Words of the trade.", (facts,), group="Quality")


def compound_page(index: int, names: list[str]) -> Page:
    compound_id, name = COMPOUNDS[index]
    columns = (
        Column("location", "Location"),
        *(Column(key, title, "ng per sampler", "number") for key, title in COMPOUNDS),
    )
    heat = Table(
        "heat",
        "Mass by location and compound",
        columns,
        tuple(
            (
                Cell(where, Ref("location", where)),
                *(Cell(f"{10**step / 4:,.4g}", tone=f"class{step}") for step in range(6)),
            )
            for where in names
        ),
    )
    figure = Figure("bars", SVG, f"{name}, ranked", f"Bars of {name} by location", "SG-01 is highest.", heat)
    return Page(
        Ref("compound", compound_id),
        name,
        "Where it was found.",
        (figure, Section("table", "Results", (heat,))),
        group="Results",
        search=f"{name} CAS",
    )


def results_table(table_id: str, caption: str, names: list[str], hostile: str, rows: int = 12) -> Table:
    columns = (
        Column("compound", "Compound"),
        Column("mass", "Mass", "ng per sampler", "number"),
        Column("rl", "Reporting limit", "ng per sampler", "number"),
        Column("q", "Qualifier"),
        Column("where", "Highest at"),
        Column("note", "Remark", kind="wide"),
    )
    made = []
    for number in range(rows):
        key, name = COMPOUNDS[number % len(COMPOUNDS)]
        marks = (((TRIP,), (WATER, ABOVE), ())[number % 3]) if number < 7 else ()
        detected = number % 3 != 2
        origin = ("lab/results.csv", 12 + number, "result_text")
        mass = Cell(
            f"{(number + 1) * 137:,}" if detected else "<25",
            None,
            marks,
            "" if detected else "nondetect",
            origin,
        )
        remark = Cell(hostile or ("Second of a pair; the pair differs by 41 %." if number == 3 else ""))
        cells = (
            Cell(name, Ref("compound", key)),
            mass,
            Cell("25", origin=origin),
            Cell("" if detected else "U"),
        )
        made.append((*cells, Cell(names[number % len(names)], Ref("location", names[number % len(names)])), remark))
    return Table(
        table_id, caption, columns, tuple(made), note="“<” means not detected at the limit shown.",
        filters=("compound", "q"), sources=(Source("lab/results.csv, field/deployments.csv"),),
    )  # fmt: skip


def location_page(index: int, names: list[str], hostile: str) -> Page:
    name = names[index]
    blocks: tuple[Block, ...] = (
        Facts(
            (
                ("Surface", Cell("concrete, 6 in")),
                (
                    "Depth",
                    Cell("2.1 ft", marks=(Mark("shallow", "Refusal on rubble before the planned depth."),)),
                ),
                ("Sampler", Cell("S-0007", Ref("sampler", "S-0007"))),
                ("In place", Cell("13 d 22 h 41 min")),
            )
        ),
        Quote(
            f"Smell of solvent when core came out.\n  Patch is rough, come back!{hostile}",
            "FS-1, deployment form",
        ),
        Section(
            "results",
            "Results",
            (results_table("results", f"Results at {name}", names, hostile, 60 if index == 0 else 12),),
        ),
        Section(
            "custody",
            "Custody",
            (
                Figure("custody", SVG, "Who held the sampler", "Timeline of S-0007", "In place, then held by CR."),
                Figure("again", SVG, "The same drawing again", "Timeline", width="half"),
                Photo("photos/hole 1.png", f"The hole after coring{hostile}", "A round hole in a slab", "FS-2"),
                Photo("photos/private.png", "Withheld", "A second hole"),
            ),
        ),
    )
    step = {"previous": index - 1, "following": index + 1}
    around = {key: Ref("location", names[at]) for key, at in step.items() if 0 <= at < len(names)}
    return Page(
        Ref("location", name),
        f"Location {name}{hostile}",
        "Soil gas through concrete.",
        blocks,
        parent=Ref("page", "map"),
        search=f"{name} solvent smell rough patch {hostile}",
        **around,
    )


def sampler_page(hostile: str) -> Page:
    blocks = (Quote(hostile or "Spare.", "LB-1"), MapFrame("Where it was", "SG-01/x y"))
    return Page(Ref("sampler", "S-0007"), "Sampler S-0007", "", blocks, parent=Ref("location", "SG-01"))


def sample_map(names: list[str]) -> MapData:
    points = tuple(
        MapPoint(
            name,
            name,
            -93.2 + at / 1000,
            45.1,
            480_000.0 + 15 * at,
            4_994_000.0,
            "soil_gas",
            "soil",
            "retrieved",
            (),
            "12",
        )
        for at, name in enumerate(names)
    )
    layer = MapLayer("pce", "Tetrachloroethene", "ng per sampler", tuple(MapValue("12", 1, ()) for _ in names))
    return MapData(points, (layer,), (), ("up to 10", "10 to 100"), "pce", "EPSG:26915")
