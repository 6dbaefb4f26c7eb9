"""How each published source of a limit or a rule is known, said once for all the places that name it."""

from __future__ import annotations

from collections.abc import Mapping

from sitegen.compute.limits import (
    CALIFORNIA,
    CHLORINATED_ETHENES,
    DOD_BLANKS,
    EPA_325,
    FUNCTIONAL_GUIDELINES,
    RISK_GUIDANCE,
)
from sitegen.compute.statistics.intervals import EPA_2009, HELSEL

READ, MEMORY, QUOTED = "read", "memory", "quoted"

CITED: Mapping[str, str] = {
    EPA_325: READ,
    DOD_BLANKS: READ,
    CHLORINATED_ETHENES: READ,
    CALIFORNIA: QUOTED,
    FUNCTIONAL_GUIDELINES: MEMORY,
    RISK_GUIDANCE: MEMORY,
    EPA_2009: MEMORY,
    HELSEL: MEMORY,
}
"""Source as it is cited to how it is known: read at the source, quoted at second hand, or from memory."""
