"""A drafted mapping as text: each entry below a remark that says what was seen and how sure that is."""

from __future__ import annotations

import json
import re
import textwrap
from collections.abc import Mapping, Sequence
from decimal import Decimal

from sitegen.project.delivery.tell import Totals
from sitegen.project.proposal.sure import ASK, CERTAIN, GUESS, LEFT, LIKELY, Entry, Value

ORDER = (
    "source", "columns", "constants", "crosstab", "crosstab.rows", "crosstab.suffixes", "crosstab.qc", "units",
    "nondetect", "names", "qualifiers", "qc", "lab_samples", "lab_samples.columns", "lab_samples.rows",
    "lab_samples.constants", "lab_samples.words", "analytes", "lab_qc.columns", "lab_qc.constants",
)  # fmt: skip
WIDTH = 116
_BARE = re.compile(r"[A-Za-z0-9_-]+", re.ASCII)
_SAID = {
    CERTAIN: "certain",
    LIKELY: "likely, confirm it",
    GUESS: "A GUESS, confirm it",
    ASK: "SAY",
    LEFT: "left out",
}
_MEANING = """\
Drafted from the file; nothing of it is used as a result until a person has confirmed it under [confirmed].
Each line states how certain it is:
  certain: the file has no other reading; likely, or A GUESS: check it against the laboratory's report;
  SAY: the file does not show it; complete the line and remove the #; left out: for information, no action needed.
Headings and terms of the trade are recognised by common practice; no source is cited."""
_CONTROL = """\
Counted from the file by this program, not entered by a person: compare each with the laboratory's signed report,
and correct it here to the signed figure. Non-detects count only as rows; the sum is in the laboratory's own unit."""
_UNCOUNTED = """\
Not counted: a line above must be completed first, or no row is a result. Where there are results, enter rows,
detected_rows and sum_detected from the signed report."""
_CONFIRMED = """\
Your role code, once you have compared the lines above with the laboratory's report (mapping), and the totals
with the signed report (control). Nothing is read while mapping is blank."""


def text_of(entries: Sequence[Entry], totals: Totals | None, remarks: Sequence[str]) -> str:
    """Write a mapping file."""
    parts = ["\n".join([*_remark(_MEANING), *(line for remark in remarks for line in ("#", *_remark(remark)))])]
    for table in ORDER:
        own = [entry for entry in entries if entry.table == table]
        if own:
            live = any(entry.sure != LEFT for entry in own)
            parts.append("\n".join([f"{'' if live else '# '}[{table}]", *(line for e in own for line in _lines(e))]))
    parts.append("\n".join(["[control]", *_control(totals)]))
    parts.append("\n".join(["[confirmed]", *_remark(_CONFIRMED), 'mapping = ""', 'control = ""']))
    return "\n\n".join(parts) + "\n"


def _control(totals: Totals | None) -> list[str]:
    if totals is None:
        return _remark(_UNCOUNTED)
    total = [f"rows = {totals.rows}", f"detected_rows = {totals.detected_rows}"]
    return [*_remark(_CONTROL), *total, f"sum_detected = {totals.sum_detected:f}"]


def _lines(entry: Entry) -> list[str]:
    live = entry.sure not in (ASK, LEFT) or entry.blocks
    line = f"{key_text(entry.key)} = {value_text(entry.value)}"
    told = _remark(f"{_SAID[entry.sure]}: {entry.seen}") if entry.seen else []
    if not told and entry.sure != CERTAIN:
        told = _remark(_SAID[entry.sure])
    return [*told, line if live else f"# {line}"]


def _remark(text: str) -> list[str]:
    """Write a text as remarks; what steers a terminal or ends a line is replaced."""
    lines = []
    for line in text.split("\n"):
        seen = "".join(sign if sign.isprintable() else "\ufffd" for sign in line)
        lines += textwrap.wrap(seen, WIDTH, break_on_hyphens=False) or [""]
    return [f"# {line}".rstrip() for line in lines]


def key_text(key: str) -> str:
    """Write a key of TOML.

    >>> key_text("rl"), key_text("µg/Sampler")
    ('rl', '"µg/Sampler"')
    """
    return key if _BARE.fullmatch(key) else value_text(key)


def value_text(value: Value) -> str:
    r"""Write a value of TOML.

    >>> value_text(["ND", 'a "b"']), value_text({"factor": Decimal("0.001"), "unit": "ug/m3"}), value_text(True)
    ('["ND", "a \\"b\\""]', '{ factor = 0.001, unit = "ug/m3" }', 'true')
    """
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int):
        return str(value)
    if isinstance(value, Decimal):
        return f"{value:f}"
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    if isinstance(value, Mapping):
        return "{ " + ", ".join(f"{key_text(key)} = {value_text(one)}" for key, one in value.items()) + " }"
    return "[" + ", ".join(value_text(one) for one in value) + "]"
