"""All hostile inputs, and the bounded sample of them that every release is tried with."""

from __future__ import annotations

import aim_archives
import aim_features
import aim_files
import aim_mappings
import aim_markdown
import aim_pictures
import aim_settings
import aim_texts
import aim_theme
import aim_values
import aim_workbooks
from hostile_case import CLASSES, Answer, Hostile

SOURCES = (
    aim_values, aim_texts, aim_files, aim_settings, aim_archives, aim_pictures, aim_workbooks, aim_features,
    aim_mappings, aim_markdown, aim_theme,
)  # fmt: skip


def all_inputs() -> list[Hostile]:
    """Return every hostile input, in the order of the classes."""
    return [one for source in SOURCES for one in source.inputs()]


def sample(per_class: int = 6) -> list[Hostile]:
    """Return a few light inputs of each class, spread over it; none of them is built but one."""
    chosen: list[Hostile] = []
    for kind in CLASSES:
        light = [one for one in all_inputs() if one.kind == kind and not one.heavy and one.answer is not Answer.BUILT]
        chosen += light[:: max(1, -(-len(light) // per_class))]
    return [*chosen, *[one for one in all_inputs() if one.answer is Answer.BUILT][:1]]
