"""Two revisions of one survey, or two rounds: told by the samplers that both have, never by a setting.

A sampler lies in the ground once, so a later revision of a survey has the placements and the
laboratory samples of the earlier one, and two rounds have none of each other's. Placements are the
same where sampler and moment of placing are, so that serials which are used again are not. Two
folders are of two rounds where each has placements or laboratory samples, and of both kinds fewer
than a tenth of the smaller folder's are in the other one. What only one folder has (a plan, a survey
still in the field) decides nothing.

So these are revisions: a folder to which a re-sampled part, a supplement or a second round was
added, for all that was there stays; serials or times of placing corrected throughout, for the
laboratory samples stay; laboratory samples numbered anew, for the placements stay. A folder of
a re-sampled part alone is a round. Points are not asked: rounds share them, and a revision may rename
them. Where less than nine tenths were replaced in place the folder is told as a revision, change by
change: to list too much can be seen, to list nothing can't.
"""

from __future__ import annotations

from collections.abc import Set as AbstractSet
from dataclasses import dataclass
from typing import NamedTuple

from sitegen.compute.evidence.revision import Revision

FEW = 0.1
"""The share of the smaller folder's samplers, and laboratory samples, below which two folders are of two rounds."""


class Shared(NamedTuple):
    """How many of something two folders have: each of them, and both."""

    old: int = 0
    new: int = 0
    both: int = 0

    @property
    def told(self) -> bool:
        """Whether each has any, so that a comparison says something."""
        return self.old > 0 and self.new > 0

    @property
    def few(self) -> bool:
        """Whether fewer than a tenth of the smaller side's are in the other.

        >>> Shared(50, 5, 0).few, Shared(50, 5, 5).few, Shared(50, 40, 4).few, Shared(50, 41, 4).few
        (True, False, False, True)
        """
        return self.both < FEW * min(self.old, self.new)


NONE = Shared()


@dataclass(frozen=True, slots=True)
class Overlap:
    """What two folders have in common: points, samplers placed, laboratory samples."""

    points: Shared = NONE
    samplers: Shared = NONE
    lab_samples: Shared = NONE

    @property
    def apart(self) -> bool:
        """Whether these are two rounds rather than two revisions, by the rule of this module."""
        telling = [shared for shared in (self.samplers, self.lab_samples) if shared.told]
        return bool(telling) and all(shared.few for shared in telling)


NO_OVERLAP = Overlap()


def overlap(old: Revision, new: Revision) -> Overlap:
    """Return what two folders have in common."""
    return Overlap(
        _shared(*(set(one.survey.frame("locations")["location_id"]) for one in (old, new))),
        _shared(*({(p.sampler_id, p.placed_at) for p in one.evaluation.placements} for one in (old, new))),
        _shared(*(set(one.survey.frame("lab_samples")["lab_sample_id"]) for one in (old, new))),
    )


def _shared(old: AbstractSet[object], new: AbstractSet[object]) -> Shared:
    return Shared(len(old - {""}), len(new - {""}), len((old & new) - {""}))
