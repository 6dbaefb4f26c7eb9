"""The notebook of the handbook: checked in without output, and each cell runs, down to a figure that draws itself."""

from __future__ import annotations

import ast
import json
from pathlib import Path
from typing import Any

import pytest
from doc_pages import DOCS

NOTEBOOK = DOCS / "from-folder-to-figure.ipynb"
KEYS = {
    "markdown": {"cell_type", "id", "metadata", "source"},
    "code": {"cell_type", "id", "metadata", "source", "execution_count", "outputs"},
}
"""What a cell has in version 4.5 of the format of notebooks, by its type; cells have no attachments here."""


def notebook() -> dict[str, Any]:
    content: dict[str, Any] = json.loads(NOTEBOOK.read_text("utf-8"))
    return content


def sources() -> list[str]:
    """Return the code of the notebook, cell by cell."""
    return ["".join(cell["source"]) for cell in notebook()["cells"] if cell["cell_type"] == "code"]


def run(source: str, names: dict[str, Any]) -> object:
    """Run a cell as a notebook does, and return what its last line gives; None where that is no expression."""
    tree = ast.parse(source)
    last = tree.body.pop() if isinstance(tree.body[-1], ast.Expr) else None
    exec(compile(tree, NOTEBOOK.name, "exec"), names)  # noqa: S102 - the notebook is ours
    shown = ast.Expression(last.value) if isinstance(last, ast.Expr) else None
    return eval(compile(shown, NOTEBOOK.name, "eval"), names) if shown else None  # noqa: S307 - as above


def test_the_notebook_holds_no_output() -> None:
    """Nothing that a run leaves is checked in: neither outputs nor counts."""
    cells = [cell for cell in notebook()["cells"] if cell["cell_type"] == "code"]
    assert len(cells) > 3
    assert [cell["id"] for cell in cells if cell["outputs"] or cell["execution_count"] is not None] == []


def test_the_notebook_is_of_the_format() -> None:
    """Its head says version 4.5, and each cell has the keys of its type, an id of its own and lines of text."""
    content = notebook()
    assert set(content) == {"cells", "metadata", "nbformat", "nbformat_minor"}
    assert (content["nbformat"], content["nbformat_minor"]) == (4, 5)
    for cell in content["cells"]:
        assert set(cell) == KEYS[cell["cell_type"]]
        assert cell["source"]
        assert all(line.endswith("\n") for line in cell["source"][:-1])
    ids = [cell["id"] for cell in content["cells"]]
    assert len(set(ids)) == len(ids)


@pytest.mark.parametrize("place", [DOCS.parent, DOCS], ids=["checkout", "docs"])
def test_the_notebook_runs_down_to_a_figure(place: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Its cells run in order in one namespace from either folder that it names; one cell ends with a drawing."""
    monkeypatch.chdir(place)
    names: dict[str, Any] = {}
    shown = [run(source, names) for source in sources()]
    assert all(one is not None for one in shown)
    drawn = [one for one in shown if hasattr(one, "_repr_svg_")]
    assert len(drawn) == 1
    assert drawn[0]._repr_svg_().startswith("<svg")
