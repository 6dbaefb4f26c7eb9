"""The link check finds what is broken and nothing else."""

from __future__ import annotations

from pathlib import Path

import pytest

from sitegen.render.site.linkcheck import check_links


def site(out: Path, body: str) -> Path:
    (out / "sub").mkdir()
    (out / "sub" / "other.html").write_text('<p id="there">x</p>', encoding="utf-8")
    (out / "a b.png").write_bytes(b"")
    (out / "index.html").write_text(body, encoding="utf-8")
    return out


@pytest.mark.parametrize(
    "body",
    [
        '<a href="sub/other.html#there">x</a>',
        '<a href="#me" id="me">x</a>',
        '<img src="a%20b.png">',
        '<a href="./sub/../index.html">x</a>',
        "<script>const x = '<a href=\"nowhere.html\">';</script>",
        '<img src="data:image/png;base64,AAAA">',
        "<p>see href=&#34;https://example.org&#34;</p>",
    ],
)
def test_sound_links_pass(tmp_path: Path, body: str) -> None:
    assert check_links(site(tmp_path, body)) == []


@pytest.mark.parametrize(
    ("body", "problem"),
    [
        ('<a href="sub/absent.html">x</a>', "no such file"),
        ('<a href="Sub/other.html">x</a>', "no such file"),
        ('<a href="sub/other.html#gone">x</a>', "no such anchor"),
        ('<a href="#gone">x</a>', "no such anchor"),
        ("<a href='https://example.org'>x</a>", "leads out"),
        ('<img src="//example.org/a.png">', "leads out"),
        ('<script src="http://example.org/a.js"></script>', "leads out"),
        ('<a href="javascript:alert(1)">x</a>', "leads out"),
        ('<a href="../out.html">x</a>', "no such file"),
        ('<a href="data:text/html,x">x</a>', "not a picture"),
        ('<img srcset="a%20b.png 2x">', "leads out"),
        ('<svg><use xlink:href="#gone"/></svg>', "no such anchor"),
    ],
)
def test_broken_links_are_named(tmp_path: Path, body: str, problem: str) -> None:
    problems = check_links(site(tmp_path, body))
    assert len(problems) == 1
    assert problem in problems[0]
    assert problems[0].startswith("index.html: ")


def test_style_sheets_are_read_too(tmp_path: Path) -> None:
    (tmp_path / "a.css").write_text(
        "@import 'https://example.org/f.css'; p { background: url(x.png) }", encoding="utf-8"
    )
    assert [problem.split(": ")[-1] for problem in check_links(tmp_path)] == [
        "leads out of the site",
        "there is no such file",
    ]
