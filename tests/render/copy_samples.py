"""A small copy for comments: every kind of block, lists in lists, and hostile text where asked for."""

from __future__ import annotations

from sample_report import sample_report

from sitegen.report.record.pages import Chapter, CommentCopy, Prose

NOTICE = "Status: draft. Revision 2. This file is a copy for comments."
LISTS = """1. one
2. two
   1. inner a
   2. inner b

      more on b
3. three

* * x

- a
  - b
    - c
      - d

Between **bold**, *slanted*, ***both*** and `mono`, [words](https://example.org/a), <https://example.org/b>\\
and a [script](javascript:alert).

7. seven
8. eight

> quoted

```
code  in
\tlines
```

---
"""


def sample_copy(hostile: str = "") -> CommentCopy:
    """Return a copy of two chapters; ``hostile`` is put into every kind of free text there is."""
    report = sample_report(hostile)
    place = next(page for page in report.pages if page.ref.kind == "location")
    chapters = (
        Chapter("summary", f"Summary{hostile}", report.pages[0].blocks),
        Chapter(
            "interpretation", "Interpretation", (Prose(f"# Title in a text\n\n{LISTS}\n\n{hostile}"), *place.blocks)
        ),
    )
    return CommentCopy((NOTICE, f"Everything here is invented.{hostile}"), f"KD-2025, draft{hostile}", chapters)
