"""Hostile narrative: Markdown that takes a reader endless time or depth, and claims that are none."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from builders import changed, content
from hostile_case import Answer, Hostile, Place, edited, heavy, late

FILE = "text/interpretation.md"
REFUSED: dict[str, Callable[[], str]] = {
    "300 quotes within each other": lambda: "> " * 300 + "x",
    "20,000 quotes within each other": lambda: ">" * 20_000 + "x",
    "300 lists within each other": lambda: "\n".join("  " * at + "- x" for at in range(300)),
    "3,000 lists in one line": lambda: "- " * 3_000 + "x",
    "a heading of 100,000 letters": lambda: "# " + "h" * 100_000,
    "a heading of 50,000 words": lambda: "# " + "h " * 50_000,
    "a word of 100,000 letters": lambda: "w" * 100_000,
    "a word of 1 MB": lambda: "w" * 1_000_000,
    "a paragraph of 150,000 signs": lambda: "w " * 75_000,
    "a paragraph of 50,000 lines": lambda: "w\n" * 50_000,
    "50,000 brackets": lambda: "[" * 50_000,
    "50,000 closed brackets": lambda: "[" * 25_000 + "]" * 25_000,
    "50,000 stars": lambda: "*" * 50_000,
    "stars and underlines": lambda: "*_" * 25_000 + "x" + "_*" * 25_000,
    "50,000 images": lambda: "![" * 50_000,
    "50,000 backticks": lambda: "".join("`" * (at % 300 + 1) + " " for at in range(1_000)),
    "50,000 angles": lambda: "<" * 50_000,
    "50,000 ampersands": lambda: "&" * 50_000,
    "a table of 2,000 columns": lambda: "|a" * 2_000 + "|\n" + "|-" * 2_000 + "|\n" + ("|b" * 2_000 + "|\n") * 20,
    "a table of 20,000 rows": lambda: "|a|b|\n|-|-|\n" + "|c|d|\n" * 20_000,
    "100,000 links": lambda: "[x](https://x.invalid/)\n\n" * 100_000,
    "100,000 definitions": lambda: "".join(f"[a{at}]: https://x.invalid/{at}\n" for at in range(100_000)),
    "definitions of one name": lambda: "[a]: https://x.invalid/\n" * 20_000 + "[a]" * 20_000,
    "footnotes in footnotes": lambda: "[^a]: " * 10_000 + "x",
    "a code fence of 300,000 signs": lambda: "```\n" + "c" * 300_000 + "\n```",
    "1,000,000 line feeds": lambda: "x" + "\n" * 1_000_000 + "x",
    "1 MB of spaces": lambda: "x" + " " * 1_000_000 + "x",
    "1 MB of tabs": lambda: "\t" * 1_000_000 + "x",
    "50,000 claims that are none": lambda: "{{ count.pce " * 50_000,
    "50,000 open braces": lambda: "{" * 50_000,
    "links in links": lambda: "[" * 3_000 + "x" + "](y)" * 3_000,
    "emphasis within emphasis": lambda: "".join(f"{'*' * (at % 2 + 1)}a " for at in range(20_000)),
    "a claim that does not end": lambda: "{{ " + "a" * 20_000,
    "words of 1,001 letters, in quotes": lambda: "> " + "w" * 1_001,
}
BOUNDED: dict[str, Callable[[], str]] = {
    "100 short lists": lambda: "- a\n- b\n\nwords\n\n" * 100,
    "eleven quotes within each other": lambda: "> " * 11 + "x",
    "900 letters in a word": lambda: "w" * 900,
    "200 headings": lambda: "".join(f"## Heading {at}\n\nwords\n\n" for at in range(200)),
    "7,000 links": lambda: "[x](https://x.invalid/)\n\n" * 7_000,
    "20,000 short paragraphs": lambda: "w\n\n" * 20_000,
    "a hundred unknown claims": lambda: "{{ nothing.at_all }}\n\n" * 100,
    "raw HTML": lambda: "<script>window.ran=1</script>\n\n<img src=x onerror=window.ran=1>\n\n<style>*{}</style>",
    "front matter": lambda: "---\ntitle: x\nplugins: [x]\n---\nwords",
    "directives": lambda: "--8<-- '/etc/passwd'\n\n{% include '/etc/passwd' %}\n\n!!! note\n    x",
    "addresses": lambda: "<javascript:window.ran=1> [x](data:text/html,x) [y](//x.invalid) [z](file:///etc/passwd)",
    "emphasis of one word": lambda: "***" * 300 + "x",
    "entities": lambda: "&#0; &#xFFFFFFFF; &#99999999999; &lt;script&gt; &NotEqualTilde;" * 50,
    "lines of dashes": lambda: "---\n\n===\n\n***\n\n" * 500,
    "a right-to-left text": lambda: "\u202e" * 500 + "words",
    "many marks on a letter": lambda: "e" + "\u0301" * 900,
}


def inputs() -> Iterator[Hostile]:
    """Yield the inputs of this class."""
    for what, text in REFUSED.items():
        yield _written(what, text, Answer.REFUSED)
    for what, text in BOUNDED.items():
        yield _written(what, text, Answer.BOUNDED)
    for kind, name in (
        ("spoilt", b"\xff\xfe"),
        ("NUL", b"a\x00b"),
        ("escape", b"a\x1b[2Jb"),
        ("surrogate", b"\xed\xa0\x80"),
    ):
        answer = Answer.REFUSED if kind in ("spoilt", "surrogate") else Answer.BOUNDED
        places = (Place(FILE),) if answer is Answer.REFUSED else ()
        yield Hostile("markdown", f"bytes: {kind}", edited(content(FILE, name)), answer, places)
    whole = {
        f"text/{path.removeprefix('text/')}": b"w w w w\n\n" * 22_000
        for path in changed().files
        if path.startswith("text/")
    }
    every = [content(path, words) for path, words in whole.items()]
    yield heavy(
        Hostile("markdown", "every text as long as it may be", edited(*every), places=(Place("text/summary.md"),))
    )


def _written(what: str, words: Callable[[], str], answer: Answer) -> Hostile:
    places = (Place(FILE),) if answer is Answer.REFUSED else ()
    return Hostile("markdown", what, edited(late(FILE, lambda: words().encode())), answer, places)
