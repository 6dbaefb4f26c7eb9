"""The colours of the mass classes: the highest is seen first, in colour, in grey and with a colour deficiency."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import matplotlib as mpl
import pytest
from matplotlib.colors import to_hex, to_rgb

from sitegen.figures.features import FEATURE_STYLES
from sitegen.figures.look import ACCENT, CLASS_COLOURS, PAPER, WARN

SEEN_AS: dict[str, tuple[tuple[float, float, float], ...]] = {
    "all colours": ((1, 0, 0), (0, 1, 0), (0, 0, 1)),
    "without red": (
        (0.152286, 1.052583, -0.204868), (0.114503, 0.786281, 0.099216), (-0.003882, -0.048116, 1.051998),
    ),
    "without green": (
        (0.367322, 0.860646, -0.227968), (0.280085, 0.672501, 0.047413), (-0.011820, 0.042940, 0.968881),
    ),
    "without blue": (
        (1.255528, -0.076749, -0.178779), (-0.078411, 0.930809, 0.147602), (0.004733, 0.691367, 0.303900),
    ),
}  # fmt: skip
"""Linear RGB as seen with a deficiency of full severity (Machado, Oliveira and Fernandes 2009, IEEE TVCG 15(6)).

The matrices are from memory; each row sums to 1, so that grey stays grey.
"""


def linear(colour: str) -> tuple[float, ...]:
    """Return linear RGB of a colour of sRGB (IEC 61966-2-1)."""
    return tuple(c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in to_rgb(colour))


def lightness(colour: str, seen: Sequence[Sequence[float]]) -> float:
    """Return CIE L* of a colour as it is seen, 0 to 100."""
    rgb = [min(1.0, max(0.0, sum(a * b for a, b in zip(row, linear(colour), strict=True)))) for row in seen]
    luminance = 0.2126 * rgb[0] + 0.7152 * rgb[1] + 0.0722 * rgb[2]
    return 116 * luminance ** (1 / 3) - 16 if luminance > 0.008856 else 903.3 * luminance


def test_the_ramp_is_sampled_from_the_published_one() -> None:
    """Each colour is one of matplotlib's table of RdPu, in its order."""
    table = [to_hex(mpl.colormaps["RdPu"](i)) for i in range(256)]
    places = [table.index(colour) for colour in CLASS_COLOURS]
    assert places == sorted(places)


@pytest.mark.parametrize("seen", SEEN_AS)
def test_a_higher_class_is_darker_for_every_reader(seen: str) -> None:
    """From class to class lightness falls by 5 or more of 100, with each deficiency as without."""
    assert all(sum(row) == pytest.approx(1, abs=1e-5) for row in SEEN_AS[seen])
    steps = [lightness(colour, SEEN_AS[seen]) for colour in CLASS_COLOURS]
    assert all(low - high >= 5 for low, high in pairwise(steps))


def test_the_highest_class_is_further_from_the_paper_than_the_lowest() -> None:
    """The lowest is a tint, the highest is nearly as dark as ink: the eye goes there first."""
    plain = SEEN_AS["all colours"]
    assert lightness(CLASS_COLOURS[0], plain) > 80
    assert lightness(CLASS_COLOURS[-1], plain) < 25


@pytest.mark.parametrize("seen", SEEN_AS)
def test_no_detection_looks_hollow(seen: str) -> None:
    """The lowest class is darker than the paper by 12 or more of 100, more than twice the least step of the ramp."""
    assert lightness(PAPER, SEEN_AS[seen]) - lightness(CLASS_COLOURS[0], SEEN_AS[seen]) >= 12


def test_no_class_has_the_colour_of_something_else() -> None:
    """Classes share no colour with the accent, the warnings and the site's features."""
    others = {ACCENT, WARN} | {style.fill for style in FEATURE_STYLES.values()}
    assert not others & set(CLASS_COLOURS)


def test_a_well_and_a_source_differ_in_shape() -> None:
    """In grey both are dark: a source is a star, a well a triangle on its tip."""
    assert FEATURE_STYLES["suspected_source"].sign != FEATURE_STYLES["well"].sign
