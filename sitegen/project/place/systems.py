"""The coordinate system of a file, from the description in it.

A description may name files (grids, parameters) that PROJ would open: such a one is refused.
"""

from __future__ import annotations

import re

import pyproj
from pyproj.exceptions import CRSError

from sitegen.project import limits
from sitegen.project.place.coordinates import WGS84, crs
from sitegen.project.place.drawn import Unusable

_NAMES_FILES = re.compile(
    r"EXTENSION|PARAMETERFILE|BOUNDCRS|ABRIDGEDTRANSFORMATION|nadgrids|geoidgrids|@|/vsi", re.IGNORECASE
)
_DO = "export it in WGS 84 (EPSG:4326), or in a projected system of the EPSG register"


def system_of_code(code: str) -> tuple[str, str]:
    """Return a system of the register by its code, as what PROJ reads and by its name. Raises Unusable."""
    known = crs(code)
    if known is None:
        raise Unusable(f"the coordinate system {code[:40]!r}, which is unknown", "a system of the EPSG register", _DO)
    return _usable(known, code)


def system_of_text(text: str, file: str) -> tuple[str, str]:
    """Return the system that a description (WKT) gives: the register's where it has the same. Raises Unusable.

    >>> system_of_text('GEOGCS["GCS_WGS_1984",DATUM["D_WGS_1984",SPHEROID["WGS_1984",6378137.0,298.257223563]],'
    ...     'PRIMEM["Greenwich",0.0],UNIT["Degree",0.0174532925199433]]', "a.prj")
    ('EPSG:4326', 'WGS 84')
    """
    if len(text) > limits.SYSTEM_CHARS.value:
        raise Unusable(f"a description of {len(text):,} characters in {file}", limits.SYSTEM_CHARS.at_most, _DO)
    if _NAMES_FILES.search(text):
        raise Unusable(f"a coordinate system in {file} that refers to further files", "a self-contained one", _DO)
    try:
        known = pyproj.CRS.from_wkt(text.strip())
        code = known.to_epsg()
    except CRSError as error:
        raise Unusable(f"a coordinate system in {file} that cannot be read", "a description in WKT", _DO) from error
    if code is not None:
        return _usable(pyproj.CRS.from_epsg(code), f"EPSG:{code}")
    return _usable(known, known.to_wkt())


def _usable(known: pyproj.CRS, source: str) -> tuple[str, str]:
    """Refuse a system without longitude and latitude, or a plane: a height, or a drawing's own."""
    flat = known.is_projected or known.is_geographic
    if not flat:
        found = f"coordinates in {known.name} ({known.type_name})"
        raise Unusable(found, "a projected or geographic coordinate system", _DO)
    return ((WGS84 if known.to_epsg() == 4326 else source), known.name)
