"""Hostile settings: every key with values of the wrong kind and size, and TOML that asks for too much."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator

from builders import Change, changed
from hostile_case import Answer, Hostile, Place, edited

FILE = "project.toml"
DIGITS = "9" * 400
VALUES = {
    "an integer of 400 digits": DIGITS,
    "a float of 400 digits": f"{DIGITS}.0",
    "infinity": "inf",
    "no number": "nan",
    "a string of 1 MB": '"' + "s" * 1_000_000 + '"',
    "a string of 20,000 characters": '"' + "s" * 20_000 + '"',
    "a list within 500 lists": "[" * 500 + "]" * 500,
    "a table": "{ a = { b = { c = 1 } } }",
    "a list of 10,000": "[" + "1," * 10_000 + "]",
    "a day of the year 1": "0001-01-01",
    "a day of the year 9999": "9999-12-31",
    "a time of day": "23:59:59.999999",
    "a truth": "true",
    "nothing": '""',
    "a control character": '"a\\u0000b\\u001b[2J"',
    "a line of its own": '"a\\nb\\r\\nc"',
}
KEYS = {
    "project.id": 'id = "KD-2025-01"', "project.revision": "revision = 1",
    "project.report_date": "report_date = 2025-12-12",
    "project.time_zone": 'time_zone = "America/Chicago"', "project.status": 'status = "review"',
    "space.crs": 'crs = "EPSG:32614"', "space.foot": 'foot = "international"', "plan.locations": "locations = 55",
    "plan.duplicate_rate": "duplicate_rate = 0.05", "plan.samplers_per_bag": "samplers_per_bag = 30",
    "plan.depth": 'depth = { value = 3.0, unit = "ft" }', "plan.exposure_days_min": "exposure_days_min = 7",
    "rules.contours": "contours = false", "lab.valid_from": "valid_from = 2025-01-01",
    "publish.level": 'level = "internal"',
    "publish.withhold": "withhold = []", "signoff.roles_required": 'roles_required = ["PM-1", "LR-1"]',
    "roles.PM-1": 'PM-1 = "project_lead"',
}  # fmt: skip
LEGAL = {
    ("plan.depth", "a table"), ("rules.contours", "a truth"), ("space.foot", "nothing"), ("publish.withhold",
    "nothing"),
}  # fmt: skip
OF_THE_FILE = ("an integer of 400 digits", "a string of 1 MB", "a list within 500 lists", "a list of 10,000")
"""More than any TOML of ours may hold: the file is told, and no key of it is looked at."""
SYSTEMS = (
    "EPSG:99999999999999999999", "EPSG:4978", "EPSG:4979", "epsg:32614", "EPSG: 32614", "32614", "+proj=utm +zone=14",
    "+proj=pipeline +step +proj=axisswap", "PROJCS[", "EPSG:3857+5773", "IAU_2015:30100", "OGC:CRS84",
    "urn:ogc:def:crs:EPSG::32614",
    "EPSG:\uff13\uff12\uff16\uff11\uff14", "EPSG:5703", "EPSG:32614\u0000"[:-1] + " ", "../../proj.db",
    "+init=epsg:32614",
    "+proj=utm +zone=14 +nadgrids=/etc/passwd", "{" + '\\"type\\": \\"GeographicCRS\\"}', "x" * 5000, "EPSG:0",
    "EPSG:-1", "EPSG:2.5e3",
)  # fmt: skip
ZONES = (
    "../../../etc/passwd",
    "/etc/passwd",
    "America",
    "america/chicago",
    "UTC+99",
    "posix/../x",
    "z" * 5000,
    "..",
    "\u0000"[1:] + " ",
)
WHOLE = {
    "20,000 unknown keys": "\n".join(f"x{at} = 1" for at in range(20_000)),
    "20,000 unknown tables": "\n".join(f"[t{at}]" for at in range(20_000)),
    "a dotted key of 5,000 parts": ".".join("k" for _ in range(5_000)) + " = 1",
    "5,000 tables within each other": "[" + ".".join("k" for _ in range(5_000)) + "]",
    "a key of 1 MB": '"' + "k" * 1_000_000 + '" = 1',
    "a comment of 2 MB": "# " + "c" * 2_000_000,
    "a string that does not end": 'x_a = """' + "s" * 100_000,
    "10,000 inline tables": "x_a = [" + "{a=1}," * 10_000 + "]",
    "a table twice": "[project]",
    "a key twice": "[x_t]\na = 1\na = 2",
    "5,000 limits": "\n".join(f'[limits.l{at}]\nvalue = 1\nsource = "s"' for at in range(5_000)),
    "a limit of 1e308": '[limits.rpd_reporting_limits]\nvalue = 1e308\nsource = "s"',
    "a limit that is no number": '[limits.rpd_reporting_limits]\nvalue = nan\nsource = "s"',
    "files in an unknown encoding": '[files."lab/results.csv"]\nencoding = "punycode"',
    "files in an encoding that is no text": '[files."lab/results.csv"]\nencoding = "zlib_codec"',
    "files in UTF-7": '[files."lab/results.csv"]\nencoding = "utf-7"',
    "files outside": '[files."../../etc/passwd"]\nencoding = "utf-8"',
    "tiles from a file": '[map.tiles]\nurl = "file:///{z}"\nattribution = "x"',
    "a background without extent": (
        '[map.background]\nfile = "photos/sg-35.png"\nwest=nan\nsouth=1\neast=2\nnorth=2\nlicence="x"'
    ),
}
_SCRIPT = "<script>window.ran=1</script>"
TILES = f'[map.tiles]\nurl = "https://x.invalid/{{z}}\\">{_SCRIPT}"\nattribution = "{_SCRIPT}"'
BACKGROUND = '[map.background]\nfile = "../../etc/passwd"\nwest=1\nsouth=1\neast=2\nnorth=2\nlicence="x"'
ELSEWHERE = {"files in an encoding that is no text": "lab/results.csv"}
"""What is told where it is met."""
BOUNDED_WHOLE = ("5,000 limits", "files in UTF-7", "files outside")


def inputs() -> Iterator[Hostile]:
    """Yield the inputs of this class."""
    assert set(KEYS) <= set(_keys()), "a key tried here is not in the example"
    for what, value in VALUES.items():
        changes = [_line(line, f"{line.split(' = ')[0]} = {value}") for line in KEYS.values()]
        keys = () if what in OF_THE_FILE else tuple(key for key in KEYS if not _may_be_legal(key, what))
        places = tuple(Place(FILE, None, key) for key in keys) or (Place(FILE),)
        yield Hostile("settings", f"{what} for every key", edited(*changes), places=places, aimed=len(KEYS))
    for system in SYSTEMS:
        change = _line(KEYS["space.crs"], f'crs = "{system}"')
        yield Hostile("settings", f"crs {system[:40]!a}", edited(change), places=(Place(FILE),))
    for zone in ZONES:
        change = _line(KEYS["project.time_zone"], f'time_zone = "{zone}"')
        yield Hostile("settings", f"time zone {zone[:40]!a}", edited(change), places=(Place(FILE),))
    for what, words in WHOLE.items():
        answer = Answer.BOUNDED if what in BOUNDED_WHOLE else Answer.REFUSED
        places = (Place(ELSEWHERE.get(what, FILE)),) if answer is Answer.REFUSED else ()
        yield Hostile("settings", what, edited(_added(words)), answer, places)
    yield Hostile("settings", "tiles with markup", edited(_added(TILES), small=True), Answer.BUILT)
    background = edited(_added(BACKGROUND))
    yield Hostile("settings", "a background that is not there", background, Answer.TOLD, (Place(FILE),))
    for previous in (
        "/dev/zero",
        "/dev/stdin",
        "..",
        ".",
        "/",
        "../survey",
        "~",
        "a\\u0000b",
        "x" * 900,
        "http://x.invalid/",
    ):
        change = _line("revision = 1", f'revision = 1\nprevious = "{previous}"')
        yield Hostile("settings", f"previous {previous[:20]!a}", edited(change), Answer.BOUNDED)


def _keys() -> Iterator[str]:
    for name, part in tomllib.loads(changed().files[FILE].content.decode()).items():
        yield from (f"{name}.{key}" for key in part)


def _may_be_legal(key: str, what: str) -> bool:
    """Tell whether a value is one that a person might give there; text of one line names anything."""
    return (key, what) in LEGAL or (key == "project.report_date" and what.startswith("a day of"))


def _line(old: str, new: str) -> Change:
    """Replace one line of the settings, up to its comment."""

    def edit(whole: bytes) -> bytes:
        text, count = re.subn(rf"(?m)^{re.escape(old)}(?=\s|$)", lambda _: new, whole.decode())
        assert count == 1, f"{old} stands {count} times"
        return text.encode("utf-8", "surrogatepass")

    return Change(FILE, edit)


def _added(words: str) -> Change:
    """Add tables at the end, and keys at the head, where they are in no table."""
    part = words.encode() + b"\n"
    return Change(FILE, lambda old: old + b"\n" + part if words.startswith("[") else part + old)
