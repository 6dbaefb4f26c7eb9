"""Long laboratory files made of choices that laboratories make apart from each other: each mixes them anew."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from math import prod
from typing import Any

from laboratory import COMPOUNDS, Laboratory, Truth, amount, analysed, comma, csv_of, every, lab_id, plain, ties

NONDETECTS = ("<{}", "ND", "<{} U", "{}", "< {}", "ND<{}")
UNITS = ("ng", "ug", "ng/sampler", "µg/tube")
PLACES = ("column", "heading", "line above")
ORDERS = ("%m/%d/%Y %H:%M", "%d.%m.%Y %H:%M", "%Y-%m-%d %H:%M", "%d-%b-%Y %I:%M %p")
CHOICES = (NONDETECTS, UNITS, PLACES, ORDERS, (True, False), (True, False), (True, False), (True, False))
"""Non-detects, unit, its place, dates, decimal comma, limits, an id of the laboratory's own, a footer."""
COUNT = 48


def choices_of(number: int) -> list[Any]:
    """Return what a laboratory chose: places in the list of all mixtures, far apart from each other."""
    place = number * 997 % prod(map(len, CHOICES))
    chosen = []
    for choice in CHOICES:
        place, at = divmod(place, len(choice))
        chosen.append(choice[at])
    return chosen


def mixed_laboratory(number: int) -> Laboratory:
    """Return the laboratory of a number: a mixture of choices."""
    below, unit, place, order, commas, limits, own_id, footer = choices_of(number)
    factor = 1000 if unit.startswith(("u", "µ")) else 1
    write = comma if commas else plain
    head = ["Lab ID"] if own_id else []
    head += ["Sampler", "Compound", "CAS No.", f"Result ({unit})" if place == "heading" else "Result", "Qual"]
    head += (["Units"] if place == "column" else []) + (["RL"] if limits else []) + ["Date Analyzed"]
    rows: list[Sequence[object]] = [
        ["Example Laboratory (invented)"],
        [f"Units: {unit}"] if place == "line above" else [],
    ]
    rows.append(head)
    truth = set()
    for serial, analyte in every():
        value, limit, found, mark = amount(serial, analyte)
        text = write(value / factor) if found else below.format(write(limit / factor))
        said = mark if found or below == "{}" else ""
        line = [lab_id(serial)] if own_id else []
        line += [serial, *COMPOUNDS[analyte], text, said]
        line += ([unit] if place == "column" else []) + ([write(limit / factor)] if limits else [])
        rows.append([*line, analysed(serial).strftime(order)])
        told = found or "{" in below
        qualifier = said or ("U" if below == "<{} U" and not found else "")
        sample = lab_id(serial) if own_id else serial
        rl: Decimal | None = limit if limits or (not found and told) else None
        truth.add(Truth(sample, analyte, value if found else None, rl, qualifier))
    rows += [["Notes: invented"]] if footer else []
    delimiter = ";" if commas else ","
    settings = f'[files."lab/mixed.csv"]\ndelimiter = "{delimiter}"\n'
    samplers = ties(lab_id if own_id else str)
    content = csv_of(rows, delimiter)
    return Laboratory("lab/mixed.csv", content, frozenset(truth), {}, samplers=samplers, settings=settings)
