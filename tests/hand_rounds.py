"""A survey of two rounds and a supplement, invented and small enough to work every number by hand.

Round R1 in May 2025 has the points A, B, C, D and E1; round R2 in October has A, B, C and E2, which is E1 a metre
farther east under a new id; supplement S2 in November adds G. Exposures are whole days: 10 in R1 (D: 12), 14 in R2
(B: 10), 10 in S2. Reporting limits are 10 ng per sampler. Bag RB-1 was in nobody's hands for an hour; of S2 no
hand-over is on record. In the trip blank of R2 are 6 ng of tetrachloroethene.

| point | compound | R1 | R2 | what became of it, the factor of the default spread being 3 |
| --- | --- | --- | --- | --- |
| A | pce | 100 | 400 | 400 / 100 = 4.0 is more than 3: larger |
| A | tce | <10 | 30 | appeared: 30 lies above the limit of 10 |
| A | benzene | 50 | 60 | 1.2, within |
| B | pce | 40 | 8 J | 8 / 40 = 0.20 is less than 1 / 3: smaller |
| B | tce | 25 | <10 | no longer detected: 25 lies above 10 |
| B | benzene | <10 | 5 J | 5 lies below 10: nothing can be told |
| C | pce, tce | <10 | <10 | in neither |
| C | benzene | 20 | 22 R | rejected: not compared |
| E2 (E1) | pce | 1000 | 900 | 0.90, within |
| E2 (E1) | tce | 12 | 30 | 2.5, within |
| E2 (E1) | benzene | <10 | <10 | in neither |
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from functools import cache

from sitegen.checking import check_snapshot
from sitegen.pipeline import compose, prepare
from sitegen.project.folder import Folder, InputFile
from sitegen.report.record.pages import Block, Page, Ref, Report, Section, Table
from sitegen.report.trace.printed import tables_in
from sitegen.report.write.context import Context

FILES = {
    "project.toml": """\
[project]
id = "TR-1"
title = "Two rounds worked by hand (invented)"
site = "Round Yard (invented)"
client = "Yard Trust (invented)"
prepared_by = "Round Field Group (invented)"
revision = 1
status = "review"
report_date = 2026-01-15
work_plan = "Work plan TR-P (invented)"
time_zone = "UTC"

[space]
crs = "EPSG:32614"

[plan]
locations = 5
exposure_days_min = 7
exposure_days_max = 14

[[rounds]]
id = "R1"
title = "Spring round"
season = "spring"

[[rounds]]
id = "R2"
title = "Autumn round"
season = "autumn"
locations = 4

[[rounds]]
id = "S2"
title = "One more point"
kind = "supplement"
of = "R2"
addendum = "Addendum 1 (invented)"
locations = 1

[signoff]
roles_required = ["PM-1"]

[roles]
PM-1 = "project_lead"
""",
    "locations/locations.csv": """\
location_id,medium,design,plan_easting,plan_northing,easting,northing,coordinate_method,surface,status,round
A,soil_gas,grid,470000,4770000,470000,4770000,GNSS,soil,placed,R1
B,soil_gas,grid,470020,4770000,470020,4770000,GNSS,asphalt,placed,R1
C,soil_gas,grid,470040,4770000,470040,4770000,GNSS,soil,placed,R1
D,soil_gas,grid,470060,4770000,470060,4770000,GNSS,soil,placed,R1
E1,soil_gas,grid,470080,4770000,470080,4770000,GNSS,soil,placed,R1
E2,soil_gas,grid,470081,4770000,470081,4770000,GNSS,soil,placed,R2
G,soil_gas,targeted,470100,4770000,470100,4770000,GNSS,soil,placed,S2
""",
    "field/samplers.csv": """\
sampler_id,label,kind,sampler_type,outcome
101,A-1,sample,T1,used
102,A-1D,field_duplicate,T1,used
103,B-1,sample,T1,used
104,C-1,sample,T1,used
105,D-1,sample,T1,used
106,E1-1,sample,T1,used
107,TB-1,trip_blank,T1,used
201,A-2,sample,T1,used
202,A-2D,field_duplicate,T1,used
203,B-2,sample,T1,used
204,C-2,sample,T1,used
206,E2-2,sample,T1,used
207,TB-2,trip_blank,T1,used
301,G-2,sample,T1,used
""",
    "field/deployments.csv": """\
sampler_id,location_id,duplicate_of,round,placed_at,retrieved_at,depth_m,moisture,condition,bag_id,placed_by,retrieved_by
101,A,,R1,2025-05-01T09:00,2025-05-11T09:00,1.0,moist,intact,RB-1,FS-1,FS-1
102,A,101,R1,2025-05-01T09:00,2025-05-11T09:00,1.0,moist,intact,RB-1,FS-1,FS-1
103,B,,R1,2025-05-01T09:00,2025-05-11T09:00,1.0,moist,intact,RB-1,FS-1,FS-1
104,C,,R1,2025-05-01T09:00,2025-05-11T09:00,1.0,dry,intact,RB-1,FS-1,FS-1
105,D,,R1,2025-05-01T09:00,2025-05-13T09:00,1.0,dry,intact,RB-1,FS-1,FS-1
106,E1,,R1,2025-05-01T09:00,2025-05-11T09:00,1.0,moist,intact,RB-1,FS-1,FS-1
201,A,,R2,2025-10-01T09:00,2025-10-15T09:00,1.0,wet,intact,RB-2,FS-1,FS-1
202,A,201,R2,2025-10-01T09:00,2025-10-15T09:00,1.0,wet,intact,RB-2,FS-1,FS-1
203,B,,R2,2025-10-01T09:00,2025-10-11T09:00,1.0,,intact,RB-2,FS-1,FS-1
204,C,,R2,2025-10-01T09:00,2025-10-15T09:00,1.0,wet,intact,RB-2,FS-1,FS-1
206,E2,,R2,2025-10-01T09:00,2025-10-15T09:00,1.0,wet,intact,RB-2,FS-1,FS-1
301,G,,S2,2025-11-05T09:00,2025-11-15T09:00,1.0,wet,intact,RB-3,FS-1,FS-1
""",
    "field/return_bags.csv": """\
bag_id,trip_blank_id,sealed_at,count_declared
RB-1,107,2025-05-13T12:00,6
RB-2,207,2025-10-15T12:00,5
RB-3,,2025-11-15T12:00,1
""",
    "field/shipments.csv": """\
shipment_id,direction,packed_at,seal_outer,items_declared,received_at,items_received,seal_received
""",
    "field/custody.csv": """\
event_id,subject_kind,subject_id,event,at,by_role,to_role,signature
E-1,bag,RB-1,relinquished,2025-05-13T13:00,FS-1,PM-1,ink
E-2,bag,RB-1,accepted,2025-05-13T14:00,PM-1,,ink
E-3,bag,RB-2,relinquished,2025-10-15T13:00,FS-1,PM-1,ink
E-4,bag,RB-2,accepted,2025-10-15T13:00,PM-1,,ink
""",
    "field/weather.csv": """\
at,source,station,distance_km,rain_mm,temperature_c
2025-05-02T12:00,invented,ST-1,2,5.0,12
2025-05-06T12:00,invented,ST-1,2,2.5,15
2025-10-03T12:00,invented,ST-1,2,10.0,9
2025-10-12T12:00,invented,ST-1,2,4.0,6
""",
    "lab/analytes.csv": """\
analyte_id,name,cas,group,molar_mass_g_mol,map,order
pce,Tetrachloroethene,127-18-4,chlorinated_ethenes,165.822,yes,1
tce,Trichloroethene,79-01-6,chlorinated_ethenes,131.38,yes,2
benzene,Benzene,71-43-2,fuel_aromatics,78.114,no,3
""",
    "lab/lab_samples.csv": """\
lab_sample_id,sampler_id,type,lab_received_at,analysed_at,batch_id,method,reportable
L-101,101,sample,2025-05-15T09:00,2025-05-20T09:00,B1,M-1 (invented),yes
L-102,102,sample,2025-05-15T09:00,2025-05-20T09:00,B1,M-1 (invented),yes
L-103,103,sample,2025-05-15T09:00,2025-05-20T09:00,B1,M-1 (invented),yes
L-104,104,sample,2025-05-15T09:00,2025-05-20T09:00,B1,M-1 (invented),yes
L-105,105,sample,2025-05-15T09:00,2025-05-20T09:00,B1,M-1 (invented),yes
L-106,106,sample,2025-05-15T09:00,2025-05-20T09:00,B1,M-1 (invented),yes
L-107,107,trip_blank,2025-05-15T09:00,2025-05-20T09:00,B1,M-1 (invented),yes
L-201,201,sample,2025-10-17T09:00,2025-10-22T09:00,B2,M-2 (invented),yes
L-202,202,sample,2025-10-17T09:00,2025-10-22T09:00,B2,M-2 (invented),yes
L-203,203,sample,2025-10-17T09:00,2025-10-22T09:00,B2,M-2 (invented),yes
L-204,204,sample,2025-10-17T09:00,2025-10-22T09:00,B2,M-2 (invented),yes
L-206,206,sample,2025-10-17T09:00,2025-10-22T09:00,B2,M-2 (invented),yes
L-207,207,trip_blank,2025-10-17T09:00,2025-10-22T09:00,B2,M-2 (invented),yes
L-301,301,sample,2025-11-17T09:00,2025-11-20T09:00,B3,M-2 (invented),yes
""",
    "lab/results.csv": """\
lab_sample_id,analyte_id,result_text,value,unit,rl,mdl,lab_qualifier,validation_qualifier,validation_reason,detected
L-101,pce,100,100,ng,10,2,,,,yes
L-101,tce,<10,,ng,10,2,U,,,no
L-101,benzene,50,50,ng,10,2,,,,yes
L-102,pce,120,120,ng,10,2,,,,yes
L-102,tce,<10,,ng,10,2,U,,,no
L-102,benzene,50,50,ng,10,2,,,,yes
L-103,pce,40,40,ng,10,2,,,,yes
L-103,tce,25,25,ng,10,2,,,,yes
L-103,benzene,<10,,ng,10,2,U,,,no
L-104,pce,<10,,ng,10,2,U,,,no
L-104,tce,<10,,ng,10,2,U,,,no
L-104,benzene,20,20,ng,10,2,,,,yes
L-105,pce,70,70,ng,10,2,,,,yes
L-105,tce,<10,,ng,10,2,U,,,no
L-105,benzene,<10,,ng,10,2,U,,,no
L-106,pce,1000,1000,ng,10,2,,,,yes
L-106,tce,12,12,ng,10,2,,,,yes
L-106,benzene,<10,,ng,10,2,U,,,no
L-107,pce,<10,,ng,10,2,U,,,no
L-107,tce,<10,,ng,10,2,U,,,no
L-107,benzene,<10,,ng,10,2,U,,,no
L-201,pce,400,400,ng,10,2,,,,yes
L-201,tce,30,30,ng,10,2,,,,yes
L-201,benzene,60,60,ng,10,2,,,,yes
L-202,pce,380,380,ng,10,2,,,,yes
L-202,tce,28,28,ng,10,2,,,,yes
L-202,benzene,62,62,ng,10,2,,,,yes
L-203,pce,8,8,ng,10,2,J,,,yes
L-203,tce,<10,,ng,10,2,U,,,no
L-203,benzene,5,5,ng,10,2,J,,,yes
L-204,pce,<10,,ng,10,2,U,,,no
L-204,tce,<10,,ng,10,2,U,,,no
L-204,benzene,22,22,ng,10,2,,R,invented,yes
L-206,pce,900,900,ng,10,2,,,,yes
L-206,tce,30,30,ng,10,2,,,,yes
L-206,benzene,<10,,ng,10,2,U,,,no
L-207,pce,6,6,ng,10,2,J,,,yes
L-207,tce,<10,,ng,10,2,U,,,no
L-207,benzene,<10,,ng,10,2,U,,,no
L-301,pce,15,15,ng,10,2,,,,yes
L-301,tce,<10,,ng,10,2,U,,,no
L-301,benzene,<10,,ng,10,2,U,,,no
""",
}


def folder(texts: Mapping[str, str]) -> Folder:
    """Return a folder of files in memory."""
    return Folder({path: _file(path, text) for path, text in sorted(texts.items())}, (), ())


def _file(path: str, text: str) -> InputFile:
    content = text.encode()
    return InputFile(path, hashlib.sha256(content).hexdigest(), content)


def texts_with(*changes: tuple[str, str, str]) -> dict[str, str]:
    """Return the files with changes: a file, words that stand once in it, and other words."""
    texts = dict(FILES)
    for path, old, new in changes:
        assert texts[path].count(old) == 1, f"{old!r} stands {texts[path].count(old)} times in {path}"
        texts[path] = texts[path].replace(old, new)
    return texts


def without_second() -> dict[str, str]:
    """Return the files without the second round, its supplement one of the first."""
    declared = '[[rounds]]\nid = "R2"\ntitle = "Autumn round"\nseason = "autumn"\nlocations = 4\n\n'
    texts = texts_with(("project.toml", declared, ""), ("project.toml", 'of = "R2"', 'of = "R1"'))
    own = ("20", "L-20", "RB-2", "E2", "E-3", "E-4", "2025-10")
    return {path: "".join(line for line in text.splitlines(True) if not line.startswith(own))
            for path, text in texts.items()}  # fmt: skip


@cache
def report(*changes: tuple[str, str, str]) -> Report:
    """Return the whole report of the survey with changes."""
    return compose(check_snapshot(folder(texts_with(*changes))))[1]


@cache
def context(*changes: tuple[str, str, str]) -> Context:
    """Return what the report of the survey is written from."""
    return prepare(check_snapshot(folder(texts_with(*changes))))[1].context


def page(ref: Ref, of: Report | None = None) -> Page:
    """Return a page of a report, by default the survey's."""
    return next(one for one in (of or report()).pages if one.ref == ref)


def section(blocks: tuple[Block, ...], name: str) -> Section:
    """Return a section of a page, sections inside sections with them."""
    for one in blocks:
        if isinstance(one, Section):
            if one.id == name:
                return one
            try:
                return section(one.blocks, name)
            except LookupError:
                continue
    raise LookupError(name)


def table(blocks: tuple[Block, ...], name: str) -> Table:
    """Return a table of a page by its id."""
    return next(one for one in tables_in(blocks) if one.id == name)


def texts(one: Table) -> list[list[str]]:
    """Return the cells of a table as their text with the words of their marks."""
    return [["".join((cell.text, *(f" [{word}]" for word in cell.mark_words))) for cell in row] for row in one.rows]
