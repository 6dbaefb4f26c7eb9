"""A campaign: a round with the supplements that belong to it, which are told and mapped together."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Supplement:
    """Points that an addendum asked for after a round: its id, title, season and document."""

    id: str
    title: str
    season: str = ""
    addendum: str = ""


@dataclass(frozen=True, slots=True)
class Campaign:
    """A round with its supplements.

    ``id`` and ``title`` are those of the round; both are empty where a folder has one round and names none.
    ``source`` names the earlier survey that it is from, by its folder below ``earlier/``, empty for this folder's own.
    """

    id: str = ""
    title: str = ""
    season: str = ""
    supplements: tuple[Supplement, ...] = ()
    source: str = ""

    @property
    def name(self) -> str:
        """What the campaign is called in a sentence: its title, else its id.

        >>> Campaign("R2", "Second round").name, Campaign("R2").name
        ('Second round', 'R2')
        """
        return self.title or self.id
