"""A laboratory layout: a line ``Sample: …`` heads the rows of each sample."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from sitegen.project.delivery.rows import Body, Pick, Spot

HEAD = "Sample: "


def blocks(pick: Pick, body: Body) -> Iterator[Mapping[str, Spot]]:
    """Yield, for each row below a head, where its sample and its mapped columns stand."""
    sample: Spot | None = None
    for number, cells in body:
        if cells[0].startswith(HEAD):
            sample = Spot(number, 1, cells[0].removeprefix(HEAD))
        elif sample and any(cells):
            yield {"lab_sample_id": sample} | {ours: Spot(number, at + 1) for ours, at in pick.side.items()}
