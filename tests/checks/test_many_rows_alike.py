"""Of many rows with one defect the first twenty are told one by one, and the others are counted at the next."""

from __future__ import annotations

import pytest
from builders import Row
from few_rows import Tables, survey_of

from sitegen.checks.rows import MAX_TOLD
from sitegen.checks.run import check_evaluation, check_survey
from sitegen.compute.evaluate import evaluate
from sitegen.findings.problems import Finding
from sitegen.project.tables import TABLES

BEYOND = 2
PATHS = {spec.name: spec.path for spec in TABLES}


def many(**cells: str) -> list[Row]:
    """Return rows alike but for their number, which stands for ``#``."""
    return [{key: text.replace("#", f"{n:02}") for key, text in cells.items()} for n in range(MAX_TOLD + BEYOND)]


FIELD: Tables = {
    "locations": many(location_id="P-#", medium="soil_gas", status="not_done", accuracy_m="9"),
    "samplers": many(sampler_id="S-#", kind="sample", label="one", shipment_id="R")
                + many(sampler_id="T-#", kind="sample"),
    "deployments": many(
        sampler_id="S-#", location_id="P-#", placed_at="2025-06-02T08:00", retrieved_at="2025-06-01T08:00",
        comment="Flooded.", sleeve="no", hole_restored="no", depth_ft="3", depth_m="2"),
    "deviations": many(deviation_id="D-#", what="w"),
    "return_bags": many(bag_id="B-#", shipment_id="O"),
    "shipments": [{"shipment_id": "R", "direction": "return"}, {"shipment_id": "O", "direction": "out"},
                  *many(shipment_id="X-#", direction="out", packed_at="2025-06-02T08:00",
                        received_at="2025-06-01T08:00", seal_condition="broken", scan_file="records/#.pdf")],
    "custody": many(event_id="E-#", subject_kind="sampler", subject_id="S-#", event="placed", at="2025-07-01T08:00")
               + many(event_id="F-#", subject_kind="bag", subject_id="gone", event="accepted", at="2025-07-01T08:00",
                      signature="none", seal_condition="absent"),
    "clearance": [{"ticket": "T-1", "location_ids": "none", "valid_from": "2025-07-02T08:00"},
                  *many(ticket="U-#", location_ids="none", valid_from="2025-07-02T08:00", valid_to="2025-07-01T08:00")],
    "weather": many(at="2025-06-02T#:00", temperature_c="99"),
    "photos": many(file="photos/#.png", location_id="P-#", publish="yes", taken_at="2025-06-09T08:00"),
}  # fmt: skip
OF_FIELD = """
position-inaccurate:locations+accuracy_m 22 2
placed-though-not-done:locations+status 22 2
coordinates-missing:locations+easting 22 2
label-twice:samplers+label 23 1
sampler-unaccounted:samplers+outcome 44 2
shipment-direction:samplers+shipment_id 22 2
shipment-direction:return_bags+shipment_id 22 2
retrieved-before-placed:deployments+retrieved_at 22 2
comment-watch-word:deployments+comment 22 2
hole-open:deployments+hole_restored 22 2
depth-disagrees:deployments+depth_m 22 2
condition-missing:deployments+condition 22 2
sampler-in-no-bag:deployments+bag_id 22 2
clearance-missing:deployments+location_id 22 2
deviation-incomplete:deviations+effect 22 2
deviation-incomplete:deviations+agreed_by_role 22 2
seal-missing:return_bags+seal_applied 22 2
received-before-packed:shipments+received_at 24 2
seal-not-whole:shipments+seal_condition 24 2
seal-not-whole:custody+seal_condition 44 2
scan-missing:shipments+scan_file 24 2
custody-disagrees:custody+at 22 2
custody-subject-unknown:custody+subject_id 44 2
hand-over-unsigned:custody+signature 44 2
clearance-reversed:clearance+valid_to 23 2
unknown-id:clearance+location_ids 22 3
weather-implausible:weather+temperature_c 22 2
photo-missing:photos+file 22 2
photo-without-words:photos+alt_text 22 2
photo-time-off:photos+taken_at 22 2
"""
"""Check, table and column, the row at which the others are counted, and how many they are. The header is row 1."""

SAMPLES: Tables = {
    "samplers": many(sampler_id="S-#", kind="field_blank"),
    "locations": many(location_id="P-#", medium="soil_gas", status="placed"),
    "deployments": many(sampler_id="D-#", location_id="P-#", placed_at="2025-06-02T08:00",
                        retrieved_at="2025-06-10T08:00", condition="intact", bag_id="B-1"),
    "return_bags": [{"bag_id": "B-1"}],
    "analytes": [{"analyte_id": "pce", "name": "Tetrachloroethene", "cas": "127-18-4"},
                 {"analyte_id": "tce", "name": "Trichloroethene", "cas": "79-01-6"},
                 *many(analyte_id="a#", name="Benzene", cas="71-43-2", molar_mass_g_mol="99")],
    "lab_samples": many(lab_sample_id="L-#", sampler_id="D-#", type="sample", lab_received_at="2025-06-09T08:00",
                        analysed_at="2025-06-08T08:00")
                   + many(lab_sample_id="M-#", type="sample")
                   + many(lab_sample_id="N-#", sampler_id="S-#", type="sample", batch_id="B1",
                          analysed_at="2025-12-08T08:00"),
    "lab_qc": [{"lab_sample_id": "other", "qc_type": "surrogate", "value": "99"}],
    "results": many(lab_sample_id="L-#", analyte_id="pce", value="0", detected="yes", unit="ng", rl="10", mdl="11",
                    lab_qualifier="QQ", validation_qualifier="J-")
               + many(lab_sample_id="M-#", analyte_id="tce", value="5", detected="yes", rl="10", mdl="3",
                      result_text="<9")
               + many(lab_sample_id="N-#", analyte_id="pce", detected="yes", unit="ng")
               + many(lab_sample_id="N-#", analyte_id="tce", detected="no", value="9", unit="ng")
               + many(lab_sample_id="N-#", analyte_id="a00", detected="yes", value="9", unit="ng", rl="1",
                      calibration_top="5")
               + many(lab_sample_id="N-#", analyte_id="a01", detected="yes", value="9", unit="ng", rl="1",
                      calibration_top="50", lab_qualifier="E")
               + many(lab_sample_id="N-#", analyte_id="a02", detected="yes", value="2", unit="ng", rl="5", mdl="3"),
    "uptake_rates": many(sampler_type="T#", analyte_id="pce", medium="soil_gas", rate_ml_min="1", source_title="s"),
    "screening_levels": many(level_set="E#", analyte_id="pce", medium="indoor_air", value="1", unit="ug/m3",
                             source_title="s", edition_date="2025-01-01", attenuation_factor="0.1"),
    "comments": many(comment_id="C-#", text="t", by_role="R", responded_by="R")
                + many(comment_id="D-#", text="t", state="answered", **{"class": "must_fix"})
                + many(comment_id="E-#", text="t", state="open", **{"class": "must_fix"}),
}  # fmt: skip
OF_SAMPLES = """
field-blank-unplaced:samplers+kind 22 2
coordinates-missing:locations+easting 22 2
depth-missing:deployments+depth_ft 22 2
unknown-id:deployments+sampler_id 22 2
cas-twice:analytes+cas 25 1
molar-mass-off:analytes+molar_mass_g_mol 24 2
analysed-before-received:lab_samples+analysed_at 22 2
laboratory-before-retrieval:lab_samples+lab_received_at 22 2
sample-without-sampler:lab_samples+sampler_id 44 2
type-disagrees:lab_samples+type 66 2
batch-missing:lab_samples+batch_id 22 24
surrogate-missing:lab_samples+lab_sample_id 22 46
compound-missing:lab_samples+lab_sample_id 22 46
unknown-id:lab_samples+sampler_id 22 2
result-for-unplaced:lab_samples+sampler_id 66 2
mdl-above-rl:results+mdl 22 2
qualifier-unknown:results+lab_qualifier 22 2
validation-unexplained:results+validation_reason 22 2
text-disagrees:results+result_text 44 2
unit-missing:results+unit 44 2
j-missing:results+lab_qualifier 44 2
value-missing:results+value 22 24
limit-missing:results+rl 88 2
value-for-nondetect:results+value 88 2
e-missing:results+lab_qualifier 110 2
e-without-cause:results+lab_qualifier 132 2
detected-below-mdl:results+value 154 2
rate-incomplete:uptake_rates+source_date 22 2
rate-incomplete:uptake_rates+days_max 22 2
attenuation-unsourced:screening_levels+attenuation_source 22 2
comment-open:comments+state 22 2
reviewer-is-author:comments+responded_by 22 2
comment-without-answer:comments+response 44 2
comment-must-fix:comments+state 66 2
"""


@pytest.mark.parametrize(("tables", "expected"), [(FIELD, OF_FIELD), (SAMPLES, OF_SAMPLES)], ids=["field", "samples"])
def test_the_rows_beyond_twenty_are_counted_at_the_first_of_them(tables: Tables, expected: str) -> None:
    survey = survey_of(tables)
    findings = [*check_survey(survey, ()), *check_evaluation(survey, evaluate(survey))]
    more = [f for f in findings if f.subject.endswith("+more")]
    assert sorted(map(counted, more)) == sorted(expected.split("\n")[1:-1])
    assert all(f.found.endswith(" more rows of this kind, starting here") for f in more)
    assert all(f.where.file == PATHS[f.subject_kind] for f in more)


def counted(finding: Finding) -> str:
    """Write the check, the place and the number of a finding that counts."""
    return f"{finding.key.removesuffix('+more')} {finding.where.row} {finding.found.split()[0]}"
