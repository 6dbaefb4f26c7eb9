"""Custody events that rows of other tables state: marked as derived where the project asks for them.

Every chain of custody takes in what deployments.csv, return_bags.csv, shipments.csv and lab_samples.csv
state, whether or not custody.csv says it again (:mod:`sitegen.compute.custody.chains`). With
``[derive] custody = true`` a project says that it leaves such events out of custody.csv: they are then
told apart, and counted. No chain depends on it, so no conclusion does.
"""

from __future__ import annotations

from itertools import chain

from sitegen.compute.custody.events import Event
from sitegen.report.write.context import Context
from sitegen.report.write.values import place_text
from sitegen.voice import worded


def derived_events(context: Context) -> tuple[Event, ...]:
    """Return the events that no row of custody.csv records, each once, by time; none where nobody asks for them."""
    if not context.survey.settings.derive.custody:
        return ()
    held = context.evaluation.custody
    chains = chain(held.shipments.values(), held.bags.values(), held.samplers.values())
    found = {event for one in chains for event in one.events if not event.event_id}
    return tuple(sorted(found, key=lambda event: (event.utc, event.kind, event.subject_kind, event.subject_id)))


def derived_text(event: Event) -> str:
    """Say from which row an event follows.

    >>> from sitegen.project.schema import Origin
    >>> derived_text(Event(0, "", "placed", "FS-1", "sampler", "1", Origin("field/deployments.csv", 5)))
    'derived from field/deployments.csv, row 5'
    """
    return worded("derived from {row}", row=place_text(event.origin))
