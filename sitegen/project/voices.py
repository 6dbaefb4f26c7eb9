"""In which voice a project is told of: as its settings state, else by the unit that it measures in."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from typing import Any

from sitegen.project.folder import Folder
from sitegen.project.reading import readable
from sitegen.project.schema import SETTINGS_FILE
from sitegen.voice import ENGLISH, LANGUAGES, SPELLINGS, Voice


def voice_of(folder: Folder) -> Voice:
    """Return the voice for a folder, whatever else in its settings is wrong."""
    return _voice(folder.content(SETTINGS_FILE) or b"")


@lru_cache(maxsize=8)
def _voice(settings: bytes) -> Voice:
    r"""Return the voice that settings ask for.

    >>> _voice(b"[plan]\ndepth = {value = 3, unit = 'ft'}"), _voice(b"[space]\nfoot = 'us_survey'")
    (Voice(spelling='us', language='en'), Voice(spelling='us', language='en'))
    >>> _voice(b"[plan]\ndepth = {value = 1, unit = 'm'}"), _voice(b"[publish]\nspelling = 'us'")
    (Voice(spelling='uk', language='en'), Voice(spelling='us', language='en'))
    >>> _voice(b"[publish]\nlanguage = 'es'").language
    'es'
    """
    data = readable(settings)
    publish = _table(data, "publish")
    language = publish.get("language")
    language = language if isinstance(language, str) and language in LANGUAGES else ENGLISH
    stated = publish.get("spelling")
    if isinstance(stated, str) and stated in SPELLINGS:
        return Voice(stated, language)
    return Voice("us" if _in_feet(data) else "uk", language)


def _in_feet(data: Mapping[str, Any]) -> bool:
    """Tell whether the settings name a foot, or the plan gives its depth or a tolerance in feet."""
    plan = _table(data, "plan")
    return bool(_table(data, "space").get("foot")) or any(_table(plan, name).get("unit") == "ft" for name in plan)


def _table(data: Mapping[str, Any], name: str) -> Mapping[str, Any]:
    found = data.get(name)
    return found if isinstance(found, dict) else {}
