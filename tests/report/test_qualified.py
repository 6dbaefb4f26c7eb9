"""Each qualification is said once for all that it applies to, and none is lost: by hand, and over the whole example.

Over the example a page or a printed table is read as a reader does: what is in a cell, at the head of its row, in its
column of custody and in the line above the table is put together and compared with the marks of the value.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from html.parser import HTMLParser

import pytest

from sitegen.compute.evaluate import evaluate
from sitegen.pipeline import Built
from sitegen.render.print.table import join_nondetects, table_nodes
from sitegen.render.print.targets import Targets
from sitegen.render.proof.pdf_text import read_pdf
from sitegen.render.site.paths import page_url
from sitegen.report.record.pages import Cell, Column, Mark, Ref, Table
from sitegen.report.trace.printed import tables_in
from sitegen.report.write.context import Context
from sitegen.report.write.publish import publishable
from sitegen.report.write.qualified import every_text, key_notes, qualified, qualifiers_in, with_custody
from sitegen.report.write.values import origin_of

MOST_CHIPS = 1_500
"""Words of qualifications in the cells and row heads of all tables of the example's site, keys left aside."""
MOST_SIGNS = 500
"""Signs of qualifications in the cells and row heads of all printed tables of the example."""

WET, CAP = Mark("water", "Wet.", "w:1"), Mark("cap damaged", "Broken.", "c:1")
SEAL, UNSIGNED = Mark("seal differs", "5 and 6.", "s:1", "bag RB-1"), Mark("unsigned", "By FS-1.", "u:1", "bag RB-1")
GAP = Mark("custody", "90 min.", "g:2", "bag RB-2")
COLUMNS = (Column("point", "Point"), Column("a", "Benzene", "ng", "number"), Column("b", "Toluene", "ng", "number"))


def table(*rows: tuple[tuple[Mark, ...], ...], columns: tuple[Column, ...] = COLUMNS) -> Table:
    """Return a table of values 1 by rows, each with the marks given for its columns."""
    cells = ((Cell(f"SG-{n}"), *(Cell("1", marks=marks) for marks in row)) for n, row in enumerate(rows, 1))
    return Table("t", "Masses", columns, tuple(cells))


def words(one: Table) -> list[list[str]]:
    """Return the words of each cell of each row, heads included."""
    return [[" ".join(cell.mark_words) for cell in row] for row in one.rows]


# --- by hand ---------------------------------------------------------------------------------


def test_what_all_values_share_is_said_once_for_the_table() -> None:
    """Two marks of a bag go together under its name; what one value lacks is not said of all."""
    made = qualified(table(((SEAL, UNSIGNED, WET), (SEAL, UNSIGNED)), ((SEAL, UNSIGNED), (SEAL, UNSIGNED))))
    assert every_text(made) == "All results: seal differs, unsigned (bag RB-1)."
    assert words(made.table) == [["", "water", ""], ["", "", ""]]


def test_what_all_values_of_a_row_share_is_at_its_head() -> None:
    """Once for two values, and not for the one of a row that has two; the key says what a head means."""
    made = qualified(table(((WET,), (WET, CAP)), ((CAP,), ())))
    assert (made.every, words(made.table)) == ((), [["water", "", "cap damaged"], ["", "cap damaged", ""]])
    assert list(key_notes(made)) == ["A qualification next to the name of a row applies to all results of that row."]


def test_the_mark_of_the_only_value_of_a_row_stays_in_its_cell() -> None:
    """Nothing is said twice there; a dash is no value."""
    rows = ((Cell("SG-1"), Cell("1", marks=(WET,)), Cell("–")), (Cell("SG-2"), Cell("1"), Cell("2")))
    assert words(qualified(Table("t", "T", COLUMNS, rows)).table)[0] == ["", "water", ""]


def test_a_table_of_one_row_keeps_its_marks_with_the_row() -> None:
    made = qualified(table(((WET, CAP), (WET,))))
    assert (made.every, words(made.table)) == ((), [["water", "cap damaged", ""]])


def test_bags_of_a_mixed_table_have_a_column_and_the_rows_keep_their_own() -> None:
    """From four rows on; a screen has the bag beside the row's name, where it can be sorted and filtered."""
    own, other = ((SEAL, UNSIGNED), (SEAL, UNSIGNED)), ((GAP, WET), (GAP,))
    made = with_custody(qualified(replace(table(own, own, other, ((), ())), filters=("point",))))
    assert [column.title for column in made.table.columns] == ["Point", "Benzene", "Toluene"]
    made = with_custody(qualified(replace(table(own, own, own, other, ((), ())), filters=("point",))))
    assert [column.title for column in made.table.columns] == ["Point", "Custody", "Benzene", "Toluene"]
    assert [row[1].text for row in made.table.rows] == ["bag RB-1", "bag RB-1", "bag RB-1", "bag RB-2", "–"]
    assert made.table.rows[0][1].ref == Ref("bag", "RB-1")
    assert made.table.filters == ("point", "custody-of")
    assert words(made.table)[3] == ["", "", "water", ""]
    assert made.of(0, 2) == {SEAL, UNSIGNED}
    assert made.of(3, 2) == {GAP, WET}


def test_a_mark_that_not_all_rows_of_a_bag_have_is_not_said_of_the_bag() -> None:
    """Two rounds may have bags of one name: what is said of the name is true of every row that names it."""
    rows = [((SEAL, UNSIGNED), (SEAL, UNSIGNED))] * 3 + [((SEAL,), (SEAL,)), ((), ())]
    made = qualified(table(*rows))
    assert [marks for _, marks in made.groups] == [(SEAL,)]
    assert words(made.table)[0] == ["bag RB-1 unsigned", "", ""]
    assert made.of(0, 1) == {SEAL, UNSIGNED}


def test_values_of_other_columns_are_left_out_by_name() -> None:
    """A limit beside a result is a number too: the line says which column it is about."""
    rows = tuple((Cell(f"C{n}"), Cell("12", marks=(WET,)), Cell("10")) for n in range(2))
    assert every_text(qualified(Table("t", "T", COLUMNS, rows))) == "All results under “Benzene”: water."


def test_a_word_of_two_reasons_is_once_in_a_cell() -> None:
    made = qualified(table(((GAP, GAP._replace(reason="20 min.")), ()), ((), ())))
    assert made.table.rows[0][1].mark_words == ("custody",)


@pytest.mark.parametrize(
    ("text", "names"),
    [("1,270 J", ["J"]), ("53300 E", ["E"]), ("<10 UJ", ["UJ"]), ("12 J, B", ["J", "B"]), ("8.1 J+", ["J+"]),
     ("1.2E+03", []), ("1E5", []), ("10 (ND)", []), ("12 NJ", ["NJ"]), ("<10", [])],
)  # fmt: skip
def test_the_key_explains_the_qualifiers_of_results_alone(text: str, names: list[str]) -> None:
    """An exponent is none, and nothing is read in parentheses."""
    rows = ((Cell("E"), Cell(text, origin=("lab/results.csv", 2, "result_text")), Cell("1")),)
    assert [name for name, _ in qualifiers_in(Table("t", "T", COLUMNS, rows))] == names
    assert qualifiers_in(Table("t", "T", COLUMNS, ((Cell("E"), Cell("4770000 E"), Cell("1")),))) == ()


# --- the example, as it is read --------------------------------------------------------------


@dataclass
class Read:
    """A table of a page: the line above it, titles, rows of (text, words of marks), and its key."""

    every: str = ""
    titles: list[str] = field(default_factory=list)
    rows: list[list[tuple[str, list[str]]]] = field(default_factory=list)
    key: list[tuple[str, str]] = field(default_factory=list)


class Reader(HTMLParser):
    """Read the tables of a page as they are shown."""

    def __init__(self) -> None:
        super().__init__()
        self.tables: list[Read] = []
        self.text, self.word, self.heading = "", "", ""
        self.marks: list[str] = []
        self.in_body = self.in_mark = self.in_every = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Begin a table, a row, a cell or a word."""
        kind = dict(attrs).get("class") or ""
        if kind == "table-block":
            self.tables.append(Read())
        self.in_mark = tag == "span" and kind == "mark"
        if tag == "tbody":
            self.in_body = True
        elif tag == "tr" and self.in_body:
            self.tables[-1].rows.append([])
        if tag in ("td", "th", "p", "dt", "dd"):
            self.text, self.marks = "", []
            self.in_every = kind == "table-every"
        if self.in_mark:
            self.word = ""

    def handle_data(self, data: str) -> None:
        """Take the text of a cell or of a qualification."""
        if self.in_mark:
            self.word += data
        else:
            self.text += data

    def handle_endtag(self, tag: str) -> None:
        """Keep what has ended."""
        if self.in_mark:
            self.marks.append(self.word)
            self.in_mark = False
        elif tag == "tbody":
            self.in_body = False
        elif not self.tables:
            return
        elif tag in ("td", "th") and self.in_body:
            self.tables[-1].rows[-1].append((self.text.strip(), self.marks))
        elif tag == "th":
            self.tables[-1].titles.append(" ".join(self.text.split()))
        elif tag == "dt":
            self.heading = self.marks[0] if self.marks else self.text
        elif tag == "dd":
            self.tables[-1].key.append((self.heading, " ".join(self.text.split())))
        elif tag == "p" and self.in_every:
            self.tables[-1].every = self.text


def said_of_all(every: str) -> set[str]:
    """Return the words of the line above a table: ``All results: seal differs, unsigned (bag RB-1); water.``."""
    parts = every.rpartition(": ")[2].removesuffix(".").split("; ")
    return {word for part in parts for word in re.sub(r" \([^()]*\)$", "", part).split(", ")} if every else set()


def bag_words(read: Read, bag: str) -> set[str]:
    return {word for word, text in read.key if f"({bag})" in text}


def found_words(read: Read, row: int, column: int, head: int) -> set[str]:
    """Return the words that a reader finds for the cell of a row; ``column`` counts without the column of custody."""
    cells = read.rows[row]
    at = column + 1 if is_added(read) and column > head else column
    words = {*cells[at][1], *(cells[head][1] if head >= 0 else ()), *said_of_all(read.every)}
    if is_added(read):
        words |= {word for bag in cells[head + 1][0].split("; ") for word in bag_words(read, bag)}
    return words


def is_added(read: Read) -> bool:
    """Tell whether the page has a column of custody that the report's table has not."""
    return "Custody" in read.titles and any(re.match(r"(bag|shipment|sampler) ", row[1][0]) for row in read.rows)


def site_tables(built: Built) -> Iterator[tuple[str, Table, Read]]:
    """Yield every table with rows of the site: where, as the report has it, and as the page shows it."""
    for page in built.report.pages:
        url = page_url(page.ref)
        reader = Reader()
        reader.feed((built.out / "site" / url).read_text("utf-8"))
        meant = [one for one in tables_in(page.blocks) if one.rows]
        read = [one for one in reader.tables if one.rows]
        assert len(meant) == len(read), url
        yield from ((f"{url}, {one.id}", one, shown) for one, shown in zip(meant, read, strict=True))


def is_value(cell: Cell) -> bool:
    return bool(cell.marks or cell.origin or re.search(r"\d", cell.text))


def test_every_qualification_of_a_value_is_found_on_its_page(built: Built) -> None:
    """Each (value, mark) pair by cell, head, column of custody or line above; no value is given one it has not."""
    pairs, lost, added, untold = 0, [], [], []
    for where, table_, read in site_tables(built):
        head = table_.row_header
        marked = [at for at in range(len(table_.columns)) if any(row[at].marks for row in table_.rows)]
        for number, row in enumerate(table_.rows):
            of_head = {mark.word for mark in row[head].marks} if head >= 0 else set()
            for at in marked:
                if is_value(row[at]) and (at != head or row[at].marks):
                    own, found = {mark.word for mark in row[at].marks}, found_words(read, number, at, head)
                    pairs += len(own)
                    lost += [(where, number, at, own - found)] if own - found else []
                    if at != head and found - own - of_head:
                        added.append((where, number, at, found - own))
        told = " ".join(text for _, text in read.key)
        reasons = {mark.reason for row in table_.rows for cell in row for mark in cell.marks}
        untold += [(where, reason) for reason in reasons if " ".join(reason.split()) not in told]
    assert (lost[:5], added[:5], untold[:5]) == ([], [], [])
    assert pairs > 7_000


def test_the_tables_of_results_have_every_mark_that_the_computation_gives(built: Built) -> None:
    """Result by result on the pages of the points, by the row of its file."""
    survey = publishable(built.survey)
    context = Context(survey, evaluate(survey), ())
    rows = {origin_of(row): row for results in context.by_location.values() for row in results}
    seen = set()
    for _, one, _ in site_tables(built):
        if one.id.startswith("results-"):
            for cell in (cell for row in one.rows for cell in row if cell.origin in rows):
                if cell.origin and not cell.origin[2].endswith(("rl", "mdl")):
                    assert cell.marks == context.marks(rows[cell.origin])
                    seen.add(cell.origin)
    assert seen == rows.keys()


def test_every_qualification_of_a_value_is_found_in_print(built: Built) -> None:
    """By the sign in the cell or at the head of the row, or by the line below the table, each with its reason."""
    pairs, lost = 0, []
    for chapter in built.report.chapters:
        for one in (one for one in tables_in(chapter.blocks) if one.rows):
            whole = join_nondetects(one) if one.joined else one
            nodes = table_nodes(one, Targets({}, frozenset()), 470.0, "at")
            head = one.row_header
            legend = nodes[-1]["legend"]
            for number, row in enumerate(whole.rows):
                for at, cell in enumerate(row):
                    pairs += len(cell.marks)
                    signs = signs_of(nodes, number, at) | (signs_of(nodes, number, head) if head >= 0 else set())
                    near = [(words, text) for words, text in legend if words.partition(" ")[0] in signs]
                    every = said_of_all(nodes[-1]["every"])
                    near += [(words, text) for words, text in legend if words in every]
                    lost += [(chapter.id, one.id, number, mark) for mark in cell.marks if not is_told(mark, near)]
    assert lost[:5] == []
    assert pairs > 1_500


def signs_of(nodes: list[dict[str, object]], row: int, column: int) -> set[str]:
    """Return the signs of a cell of a printed table, whichever panel it is in."""
    start = 0
    for node in nodes:
        cells = node["rows"][row]  # type: ignore[index]
        own = len(cells) - (1 if start else 0)
        if column < start + own:
            cell = cells[column - start + (1 if start else 0)]
            return set(cell.get("marks", ())) if isinstance(cell, dict) else set()
        start += own
    raise AssertionError(column)


def is_told(mark: Mark, legend: list[tuple[str, str]]) -> bool:
    """Tell whether entries of a key have a mark: under its word, or under the name of its bag."""
    for name, text in legend:
        if name.endswith(mark.word) and mark.reason in text:
            return True
        if mark.reach and name.endswith(mark.reach) and f"{mark.word}: {mark.reason}" in text:
            return True
    return False


def test_few_words_of_qualifications_are_in_the_tables_of_the_example(built: Built) -> None:
    """Words in cells and row heads of all tables of all pages (keys aside), and signs in those of print.

    The values have some 7,300 on the pages, each word once in a cell.
    """
    chips = meant = 0
    for _, one, read in site_tables(built):
        meant += sum(len(cell.mark_words) for row in one.rows for cell in row)
        chips += sum(len(marks) for row in read.rows for _, marks in row)
    assert 0 < chips < MOST_CHIPS < 7_000 < meant
    tables = [one for chapter in built.report.chapters for one in tables_in(chapter.blocks)]
    nodes = [node for one in tables for node in table_nodes(one, Targets({}, frozenset()), 470.0, "at")]
    cells = [cell for node in nodes for row in node["rows"] for cell in row if isinstance(cell, dict)]
    assert 0 < sum(len(cell.get("marks", ())) for cell in cells) < MOST_SIGNS


def test_the_text_of_the_pdf_has_signs_and_no_codes_of_pictures(built: Built) -> None:
    """No letter of a private area, which a font of symbols would leave in the text; signs are in the text."""
    text = read_pdf(built.pdf, tagged=False, parsed=False).text
    assert re.findall("[\ue000-\uf8ff\U000f0000-\U0010ffff]", text) == []
    assert "†" in text
