"""Constants and conversions, each with its source in the same record."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Literal

from sitegen.voice import worded


@dataclass(frozen=True, slots=True)
class Constant:
    """A number, its unit, and where it is from."""

    value: float
    unit: str
    source: str


GAS_CONSTANT = Constant(8.314462618, "J/(mol K)", "CODATA 2018 and 2022, exact by the SI definition of 2019")
ZERO_CELSIUS = Constant(273.15, "K", "SI Brochure, 9th edition (BIPM 2019)")
INTERNATIONAL_FOOT = Constant(0.3048, "m", "US Federal Register 24 FR 5348 (1959); exact")
US_SURVEY_FOOT = Constant(1200 / 3937, "m", "US Federal Register 24 FR 5348 (1959), from the Mendenhall Order (1893)")
INCH = Constant(0.0254, "m", "US Federal Register 24 FR 5348 (1959); exact")
STANDARD_PRESSURE = Constant(1013.25, "hPa", "WMO/ISO 2533 standard atmosphere; exact")

LENGTHS: dict[str, Constant] = {
    "m": Constant(1.0, "m", "SI"),
    "cm": Constant(0.01, "m", "SI"),
    "mm": Constant(0.001, "m", "SI"),
    "ft": INTERNATIONAL_FOOT,
    "us_ft": US_SURVEY_FOOT,
    "in": INCH,
}


@dataclass(frozen=True, slots=True)
class ResultUnit:
    """A unit of laboratory results: its word in the data, its symbol, and what it is a unit of.

    ``factor`` leads to ng for a mass, and to µg/m³ for a concentration.

    >>> ResultUnit("ng", "ng", "mass_per_sampler").text, ResultUnit("ug/m3", "µg/m³", "concentration").text
    ('ng per sampler', 'µg/m³')
    """

    code: str
    symbol: str
    kind: Literal["mass_per_sampler", "concentration"]
    factor: float = 1.0

    @property
    def stated(self) -> str:
        """The unit as data files state it, whatever the language of the report."""
        return f"{self.symbol} per sampler" if self.kind == "mass_per_sampler" else self.symbol

    @property
    def text(self) -> str:
        """The unit as it is written wherever a reader meets it: a mass is always one per sampler."""
        return worded("{unit} per sampler", unit=self.symbol) if self.kind == "mass_per_sampler" else self.symbol

    @property
    def moles(self) -> str:
        """The unit of an amount whose mass is in this unit and whose molar mass is in g/mol."""
        return f"{self.symbol.removesuffix('g')}mol"


NANOGRAM = ResultUnit("ng", "ng", "mass_per_sampler")

RESULT_UNITS: Mapping[str, ResultUnit] = {
    unit.code: unit
    for unit in (
        NANOGRAM,
        ResultUnit("ug", "µg", "mass_per_sampler", factor=1000.0),
        ResultUnit("ug/m3", "µg/m³", "concentration"),
    )
}
"""The units that a result or a level may have, by their words in the data; no other is read."""


class _UnitTexts(Mapping[str, str]):
    """The texts of units by their codes, in the voice that speaks when one is asked for."""

    def __getitem__(self, code: str) -> str:
        return RESULT_UNITS[code].text

    def __iter__(self) -> Iterator[str]:
        return iter(RESULT_UNITS)

    def __len__(self) -> int:
        return len(RESULT_UNITS)


def stated_unit(code: str) -> str:
    """Return the unit of a code as data files state it; one that is none of ours as it is.

    >>> stated_unit("ng"), stated_unit("ppb")
    ('ng per sampler', 'ppb')
    """
    return RESULT_UNITS[code].stated if code in RESULT_UNITS else code


UNIT_TEXT = _UnitTexts()
"""How the units of results are written wherever a reader meets them."""

MASS_UNITS = tuple(code for code, unit in RESULT_UNITS.items() if unit.kind == "mass_per_sampler")
CONCENTRATION_UNITS = tuple(code for code, unit in RESULT_UNITS.items() if unit.kind == "concentration")


def to_metres(value: float, unit: str) -> float:
    """Convert a length to metres. KeyError for a unit not in ``LENGTHS``.

    >>> round(to_metres(3.0, "ft"), 4)
    0.9144
    """
    return value * LENGTHS[unit].value


def minutes_to_days(minutes: float) -> float:
    """Convert minutes to days of 1,440 minutes.

    >>> minutes_to_days(18_780)
    13.041666666666666
    """
    return minutes / 1440.0


def molar_volume_l(temperature_c: float, pressure_hpa: float) -> float:
    """Return the molar volume of an ideal gas in litres.

    V = R T / p, with R from CODATA.

    >>> round(molar_volume_l(25.0, 1013.25), 3)
    24.465
    """
    kelvin = temperature_c + ZERO_CELSIUS.value
    return GAS_CONSTANT.value * kelvin / (pressure_hpa * 100.0) * 1000.0


def ug_m3_to_ppbv(
    concentration_ug_m3: float, molar_mass_g_mol: float, temperature_c: float, pressure_hpa: float
) -> float:
    """Convert µg/m³ to parts per billion by volume at a stated temperature and pressure.

    >>> round(ug_m3_to_ppbv(3190.0, 78.11, 25.0, 1013.25))
    999
    """
    return concentration_ug_m3 * molar_volume_l(temperature_c, pressure_hpa) / molar_mass_g_mol
