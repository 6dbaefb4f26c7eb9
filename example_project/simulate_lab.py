"""The laboratory's side: what it analysed, what it reported, its quality samples.

Masses come from the hidden truth with noise; the reported text, limits and
qualifiers follow from them by the laboratory's own habits.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime, timedelta

import simulate_field as field
from simulate_base import Row, bell, between, minute, stream, wall
from simulate_ground import ANALYTES, true_mass_ng

ANALYTE_ROWS: tuple[tuple[str, str, str, str, str, str, str], ...] = (
    ("pce", "Tetrachloroethene", "127-18-4", "chlorinated_ethenes", "165.822", "yes",
     "PCE; perchloroethylene"),
    ("tce", "Trichloroethene", "79-01-6", "chlorinated_ethenes", "131.38", "yes",
     "TCE; trichloroethylene"),
    ("cis12dce", "cis-1,2-Dichloroethene", "156-59-2", "chlorinated_ethenes", "96.938", "yes",
     "cis-1,2-DCE"),
    ("trans12dce", "trans-1,2-Dichloroethene", "156-60-5", "chlorinated_ethenes", "96.938",
     "no", "trans-1,2-DCE"),
    ("11dce", "1,1-Dichloroethene", "75-35-4", "chlorinated_ethenes", "96.938", "no",
     "1,1-DCE"),
    ("vc", "Vinyl chloride", "75-01-4", "chlorinated_ethenes", "62.496", "yes",
     "VC; chloroethene"),
    ("111tca", "1,1,1-Trichloroethane", "71-55-6", "chlorinated_other", "133.396", "no",
     "1,1,1-TCA"),
    ("11dca", "1,1-Dichloroethane", "75-34-3", "chlorinated_other", "98.954", "no", "1,1-DCA"),
    ("chloroform", "Chloroform", "67-66-3", "chlorinated_other", "119.369", "no",
     "trichloromethane"),
    ("carbontet", "Carbon tetrachloride", "56-23-5", "chlorinated_other", "153.811", "no",
     "tetrachloromethane"),
    ("mecl2", "Methylene chloride", "75-09-2", "chlorinated_other", "84.927", "no",
     "dichloromethane"),
    ("benzene", "Benzene", "71-43-2", "fuel_aromatics", "78.114", "yes", ""),
    ("toluene", "Toluene", "108-88-3", "fuel_aromatics", "92.141", "yes", "methylbenzene"),
    ("ethylbenzene", "Ethylbenzene", "100-41-4", "fuel_aromatics", "106.168", "no", ""),
    ("mxylene", "m-Xylene", "108-38-3", "fuel_aromatics", "106.168", "no",
     "1,3-dimethylbenzene"),
    ("oxylene", "o-Xylene", "95-47-6", "fuel_aromatics", "106.168", "no",
     "1,2-dimethylbenzene"),
    ("124tmb", "1,2,4-Trimethylbenzene", "95-63-6", "fuel_aromatics", "120.195", "yes",
     "1,2,4-TMB"),
    ("naphthalene", "Naphthalene", "91-20-3", "pah", "128.174", "yes", ""),
    ("2mnaph", "2-Methylnaphthalene", "91-57-6", "pah", "142.201", "no", ""),
    ("undecane", "Undecane", "1120-21-4", "other", "156.313", "no", "n-undecane"),
    ("octane", "n-Octane", "111-65-9", "other", "114.232", "no", "octane"),
    ("mtbe", "Methyl tert-butyl ether", "1634-04-4", "oxygenates", "88.15", "no", "MTBE"),
)  # fmt: skip
"""Id, name, CAS number, group, molar mass in g/mol, on the map, other spellings."""

LIMITS_NG = {"mecl2": (25.0, 7.0), "2mnaph": (25.0, 6.0), "undecane": (25.0, 8.0)}
LIMITS_NG |= {"octane": (25.0, 7.0), "mtbe": (25.0, 6.0), "pce": (10.0, 2.0), "vc": (10.0, 3.0)}
"""Reporting and detection limit in ng at dilution 1; (10, 2.5) for the rest."""
TOP_NG = 10000.0
DILUTED = {"SG-46": 5, "SG-32": 5, "SG-36": 2}
RERUN = "SS-01"
PLAIN = "passive sampler, mass per sampler"
SPLIT = "re-run of the kept split at dilution, for information; first run is reported"
LOW_SURROGATE = "SG-12"
BLANK_HIT = ("B1", "naphthalene", 14.0)
BESIDE_CAN_FROM = wall("2025-11-06T10:35")
UNEVEN = {"pce": 2.15, "tce": 2.3, "cis12dce": 1.95}
AIR_NG = {
    "IA-01": {"pce": 212, "tce": 24, "cis12dce": 6, "benzene": 21, "toluene": 165,
              "ethylbenzene": 19, "mxylene": 58, "oxylene": 22, "124tmb": 15, "undecane": 48},
    "IA-02": {"pce": 118, "tce": 13, "benzene": 24, "toluene": 410, "ethylbenzene": 44,
              "mxylene": 131, "oxylene": 47, "124tmb": 27, "mecl2": 84, "octane": 31,
              "undecane": 66},
    "OA-01": {"benzene": 12, "toluene": 27, "mxylene": 9},
}  # fmt: skip
TRIP_BLANK_NG = {"TB-1": {"mecl2": 9.0}, "TB-2": {"toluene": 62.0, "mxylene": 27.0}}
REVIEWED = {
    ("SG-25", "naphthalene"): ("U", "method blank of batch B1 holds naphthalene"),
    ("SG-42", "pce"): ("J", "field duplicate pair disagrees"),
    ("SG-42-D", "pce"): ("J", "field duplicate pair disagrees"),
}
"""Label and compound: what LR-1 wrote at the validation of single results."""


@dataclass(frozen=True)
class Run:
    """One analysis: what was run, when, at which dilution, in which batch."""

    lab_sample_id: str
    kind: str
    label: str
    sampler_id: str
    batch_id: str
    at: datetime
    dilution: int = 1
    reportable: str = "yes"


def analyte_rows() -> list[Row]:
    """Give ``lab/analytes.csv``; molar masses from the standard atomic weights (CIAAW)."""
    names = ("analyte_id", "name", "cas", "group", "molar_mass_g_mol", "map", "synonyms")
    return [
        {
            **dict(zip(names, item, strict=True)),
            "order": str(place),
            "common_lab_contaminant": "yes" if item[0] == "mecl2" else "no",
        }
        for place, item in enumerate(ANALYTE_ROWS, start=1)
    ]


def runs() -> tuple[Run, ...]:
    """Give every analysis in the order it was run, quality samples first in each batch.

    >>> runs()[0].lab_sample_id
    '04417-B1-MB'
    """
    queue: list[tuple[str, str, str]] = []
    for bag_id, blank in field.TRIP_BLANKS.items():
        queue += [("sample", visit.label, visit.sampler_id) for visit in field.bagged(bag_id)]
        queue.append(("trip_blank", blank, field.BLANK_SERIALS[blank]))
    batches = (queue[:20], queue[20:40], queue[40:])
    return tuple(run for number, part in enumerate(batches) for run in _batch(number, part))


def _batch(number: int, queue: list[tuple[str, str, str]]) -> list[Run]:
    batch_id, at = f"B{number + 1}", wall("2025-11-17T07:52") + timedelta(days=number)
    step = timedelta(minutes=26)
    controls = (("MB", "method_blank"), ("LC", "control"), ("LD", "control_duplicate"))
    done: list[Run] = []
    for mark, kind in controls:
        done.append(Run(f"04417-{batch_id}-{mark}", kind, "", "", batch_id, at))
        at += step
    for place, (kind, label, sampler_id) in enumerate(queue, start=1 + 20 * number):
        dilution = DILUTED.get(label, 1)
        lab_id = f"04417-{place:03d}"
        done.append(Run(lab_id, kind, label, sampler_id, batch_id, at, dilution))
        at += step
        if label == RERUN:
            done.append(Run(f"{lab_id}R", kind, label, sampler_id, batch_id, at, 10, "no"))
            at += step
    return done


def lab_sample_rows() -> list[Row]:
    """Give ``lab/lab_samples.csv``, one row per analysis."""
    return [
        {
            "lab_sample_id": run.lab_sample_id,
            "sampler_id": run.sampler_id,
            "type": run.kind,
            "lab_received_at": "2025-11-10T09:32" if run.sampler_id else "NA",
            "tz": "America/Denver",
            "analysed_at": minute(run.at),
            "batch_id": run.batch_id,
            "method": "thermal desorption, gas chromatography, mass spectrometry (EL-07, invented)",
            "modification": PLAIN if run.reportable == "yes" else SPLIT,
            "dilution": str(run.dilution),
            "reportable": run.reportable,
        }
        for run in runs()
    ]


# --- results ------------------------------------------------------------------------


def result_rows() -> list[Row]:
    """Give ``lab/results.csv``: every compound of every sample, blank and re-run."""
    visits = {visit.label: visit for visit in field.visits()}
    rows: list[Row] = []
    for run in runs():
        if not run.kind.startswith("control"):
            found = _found_ng(run, visits)
            rows += [_result(run, name, found[name]) for name in ANALYTES]
    return rows


def _found_ng(run: Run, visits: dict[str, field.Visit]) -> dict[str, float]:
    found = dict.fromkeys(ANALYTES, 0.0)
    if run.kind == "method_blank":
        batch_id, name, mass_ng = BLANK_HIT
        return found | {name: mass_ng if run.batch_id == batch_id else 0.0}
    if run.kind == "trip_blank":
        return found | TRIP_BLANK_NG[run.label]
    visit = visits[run.label]
    if visit.label in AIR_NG:
        return found | {name: float(mass) for name, mass in AIR_NG[visit.label].items()}
    return _soil_gas_ng(visit, run.dilution)


def _soil_gas_ng(visit: field.Visit, dilution: int) -> dict[str, float]:
    """Take the truth, the hole's and the hand's luck, and what went wrong on the way."""
    place = stream("hole luck", visit.point.location_id)
    own = stream("sampler luck", visit.label)
    share = math.exp(0.22 * bell(place)) * (visit.exposure_days / 13.0)
    share *= math.exp(0.03 * bell(own)) * (1.17 if visit.duplicate_of else 1.0)
    if visit.point.location_id == field.FLOODED:
        share *= 0.04
    mass = {}
    for name, true_ng in true_mass_ng(visit.point.at_m).items():
        spread = math.exp(0.13 * bell(place)) * math.exp(0.03 * bell(own))
        uneven = UNEVEN.get(name, 1.0) if visit.label == "SG-42-D" else 1.0
        mass[name] = true_ng * share * spread * uneven
    for name, extra_ng in (_stray_ng(visit) | _bag_ng(visit)).items():
        mass[name] += extra_ng
    if visit.label == RERUN and dilution > 1:
        return {name: 0.93 * mass_ng for name, mass_ng in mass.items()}
    return mass


def _stray_ng(visit: field.Visit) -> dict[str, float]:
    """Give the small unsystematic masses that any survey of this kind carries."""
    rng = stream("stray", visit.point.location_id)
    chances = {
        "benzene": (0.35, 2.6, 7.0),
        "mecl2": (0.22, 8.0, 44.0),
        "chloroform": (0.12, 3.0, 18.0),
        "carbontet": (0.06, 2.6, 6.0),
        "naphthalene": (0.14, 3.0, 12.0),
        "undecane": (0.15, 9.0, 40.0),
        "octane": (0.08, 7.5, 24.0),
    }
    stray = {}
    for name, (chance, low, high) in chances.items():
        luck, level = rng.random(2).tolist()
        if luck < chance:
            stray[name] = low + (high - low) * level**2
    return stray


def _bag_ng(visit: field.Visit) -> dict[str, float]:
    """Give what the fuel can beside bag RB-2 added to the samplers that lay next to it."""
    if visit.bag_id != "RB-2" or visit.retrieved is None or visit.retrieved < BESIDE_CAN_FROM:
        return {}
    toluene_ng = 58.0 * math.exp(0.45 * bell(stream("bag", visit.label)))
    return {"toluene": toluene_ng, "mxylene": 0.42 * toluene_ng}


def _result(run: Run, name: str, mass_ng: float) -> Row:
    rl, mdl = (limit * run.dilution for limit in LIMITS_NG.get(name, (10.0, 2.5)))
    top = TOP_NG * run.dilution
    value = _value_text(mass_ng)
    detected = float(value) >= mdl
    reviewed = REVIEWED.get((run.label, name), ("", ""))
    return {
        "lab_sample_id": run.lab_sample_id,
        "analyte_id": name,
        "result_text": _detected_text(run, value) if detected else _missing_text(run, rl),
        "value": value if detected else "",
        "unit": "ng",
        "rl": f"{rl:.0f}",
        "mdl": f"{mdl:g}",
        "lab_qualifier": _mark(float(value), mdl, rl, top),
        "validation_qualifier": reviewed[0],
        "validation_reason": reviewed[1],
        "detected": "yes" if detected else "no",
        "calibration_top": f"{top:.0f}",
    }


def _value_text(mass_ng: float) -> str:
    """Write a mass as the laboratory rounds it: three figures, one decimal below 10."""
    rounded = float(f"{mass_ng:.3g}")
    return f"{rounded:.1f}" if rounded < 10 else f"{rounded:.0f}"


def _detected_text(run: Run, value: str) -> str:
    return f"{float(value):.2E}" if run.dilution > 1 and float(value) >= 1000 else value


def _missing_text(run: Run, rl: float) -> str:
    plain = run.kind != "method_blank" and run.reportable == "yes"
    return f"<{rl:.0f}" if plain else "ND"


def _mark(value: float, mdl: float, rl: float, top: float) -> str:
    """Give the laboratory's qualifier: ``U`` not detected, ``J`` below the limit, ``E`` above range."""
    if value < mdl:
        return "U"
    if value < rl:
        return "J"
    return "E" if value > top else ""


# --- the laboratory's quality samples -------------------------------------------------


def qc_rows() -> list[Row]:
    """Give ``lab/lab_qc.csv``: surrogates of every run, recoveries of the controls."""
    rows: list[Row] = []
    for run in runs():
        for name in ("Toluene-d8", "4-Bromofluorobenzene"):
            low = run.label == LOW_SURROGATE and name == "4-Bromofluorobenzene"
            percent = 58 if low else between(stream("surrogate", run.lab_sample_id, name), 84, 114)
            rows.append(_qc(run, "surrogate", name, percent))
        if run.kind.startswith("control"):
            rows += [_recovery(run, run.kind, name) for name in CONTROLLED]
        if run.kind == "control":
            rows += [_recovery(run, "calibration_check", name) for name in CONTROLLED]
    return rows


CONTROLLED = ("pce", "tce", "vc", "benzene", "toluene", "naphthalene")


def _recovery(run: Run, qc_type: str, analyte_id: str) -> Row:
    names = {item[0]: item[1] for item in ANALYTE_ROWS}
    percent = between(stream(qc_type, run.lab_sample_id, analyte_id), 86, 113)
    return _qc(run, qc_type, names[analyte_id], percent)


def _qc(run: Run, qc_type: str, name: str, percent: int) -> Row:
    check = qc_type == "calibration_check"
    return {
        "lab_sample_id": run.lab_sample_id,
        "qc_type": qc_type,
        "name": name,
        "value": str(percent),
        "unit": "%",
        "lower": "80" if check else "70",
        "upper": "120" if check else "130",
        "limit_source": "laboratory's quality plan EL-QP (invented)",
    }


# --- reference tables -----------------------------------------------------------------

RATES_ML_MIN = {
    "pce": "0.82", "tce": "0.88", "cis12dce": "0.79", "vc": "0.61",
    "benzene": "0.93", "toluene": "0.86", "ethylbenzene": "0.77", "mxylene": "0.77",
}  # fmt: skip
LEVELS_UG_M3 = {
    "pce": ("8.0", "35", "270"), "tce": ("1.5", "6.0", "50"), "vc": ("0.2", "2.5", "6.7"),
    "benzene": ("0.4", "1.8", "13"), "toluene": ("4000", "17000", "130000"),
}  # fmt: skip
"""Invented levels in the order of ``LEVEL_USES``."""
LEVEL_USES = (
    ("indoor_air", "residential"),
    ("indoor_air", "commercial"),
    ("soil_gas", "residential"),
)


def rate_rows() -> list[Row]:
    """Give ``reference/uptake_rates.csv``: air only, never soil gas."""
    return [
        {
            "sampler_type": "T1",
            "analyte_id": name,
            "medium": medium,
            "rate_ml_min": rate,
            "temperature_c": "20",
            "days_min": "7",
            "days_max": "14",
            "source_title": "Example rate table (invented for this example, not for use)",
            "source_date": "2025-03-01",
        }
        for medium in ("indoor_air", "outdoor_air")
        for name, rate in RATES_ML_MIN.items()
    ]


def level_rows() -> list[Row]:
    """Give ``reference/screening_levels.csv``, all of it invented."""
    return [
        {
            "level_set": "EX-1",
            "analyte_id": name,
            "medium": medium,
            "land_use": use,
            "value": level,
            "unit": "ug/m3",
            "basis": "invented",
            "source_title": "Example level set (invented)",
            "edition_date": "2025-05-01",
            "retrieved_on": "2025-12-01",
            "attenuation_factor": "0.03" if medium == "soil_gas" else "NA",
            "attenuation_source": "Example level set (invented)" if medium == "soil_gas" else "NA",
        }
        for name, levels in LEVELS_UG_M3.items()
        for (medium, use), level in zip(LEVEL_USES, levels, strict=True)
    ]
