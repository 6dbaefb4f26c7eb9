"""A small survey of air: the example with masses, rates and times of which concentrations are worked by hand.

Samplers hung for 10,000 minutes at rates of 1 mL/min: C = 1000 m / (U t) in µg/m³ is a tenth of the mass in ng.
"""

from __future__ import annotations

from builders import Change, Row, changed, content, every, load, table

from sitegen.compute.evaluate import evaluate
from sitegen.project.survey import Survey
from sitegen.project.tables import LabSample
from sitegen.report.record.pages import Table
from sitegen.report.write.context import Context

MASSES = {
    ("0047129", "pce"): "60", ("0047128", "pce"): "80", ("0047127", "pce"): "20",
    ("0047128", "tce"): "", ("0047127", "tce"): "40",
}  # fmt: skip
"""Masses in ng of IA-01 (..29), IA-02 (..28), OA-01 (..27): empty for a non-detect at 10, of all that was analysed."""
LEVELS = """level_set,analyte_id,medium,land_use,value,unit,basis,source_title,edition_date
S,pce,indoor_air,residential,8.0,ug/m3,b,Set S,2025-05-01
S,pce,indoor_air,,2.5,ug/m3,b,Set T,
S,tce,indoor_air,residential,0.5,ug/m3,b,Set S,2025-05-01
S,vc,indoor_air,residential,0.2,ug/m3,b,Set S,2025-05-01
S,pce,soil_gas,residential,270,ug/m3,b,Set S,2025-05-01
"""
PRODUCTS = """product_id,location_id,product,analyte_ids,state,noted_at,comment
P-1,IA-02,paint, pce ; benzene,in_use,2025-10-24T12:36,lid dented
P-2,IA-01,pens,,,,
"""


def results(samples: dict[str, str]) -> Change:
    def edit(rows: list[Row]) -> list[Row]:
        kept = []
        for row in rows:
            mass = MASSES.get((samples.get(row["lab_sample_id"], ""), row["analyte_id"]))
            if mass is not None:
                row.update(value=mass, result_text=mass or "<10", rl="10", mdl="2", lab_qualifier="", unit="ng")
                row.update(detected="yes" if mass else "no", validation_qualifier="")
                kept.append(row)
        return kept

    return table("lab/results.csv", edit)


def survey_of(*changes: Change) -> Survey:
    samples = {row.lab_sample_id: row.sampler_id for row in load(changed()).rows(LabSample)}
    hung = every(
        "field/deployments.csv", lambda _: {"placed_at": "2025-10-24T12:00", "retrieved_at": "2025-10-31T10:40"}
    )
    rates = every("reference/uptake_rates.csv", lambda _: {"rate_ml_min": "1.0"})
    levels, products = (
        content("reference/screening_levels.csv", LEVELS.encode()),
        content("field/products.csv", PRODUCTS.encode()),
    )
    return load(changed(results(samples), hung, rates, levels, products, *changes))


def context_of(*changes: Change) -> Context:
    survey = survey_of(*changes)
    return Context(survey, evaluate(survey), ())


def texts(table: Table) -> list[list[str]]:
    return [[cell.text for cell in row] for row in table.rows]
