"""A small survey, invented and written out in full, so that a person can work every number of its report by hand.

Seven points of soil gas were planned: five gave results, of which one was added in the field; one was not done,
one sampler was lost, and one came back and was not analysed. One point is of indoor air. One sampler is a
duplicate, one a field blank, one a trip blank, one a spare; there are two return bags and two batches. One
first run is not reportable, one detection has a laboratory's and a reviewer's qualifier, and one bag was in
nobody's hands for 47 minutes. The clocks went back by an hour on 2 November 2025, during the exposure.

Positions are round figures of the grid: SG-1 was planned 10 m east and 10 m north of the corner of the site.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from functools import cache

from sitegen.checking import check_snapshot
from sitegen.pipeline import compose
from sitegen.project.folder import Folder, InputFile
from sitegen.report.record.pages import Report

FILES = {
    "project.toml": """\
[project]
id = "HW-1"
title = "Survey worked by hand (invented)"
site = "Hand Yard (invented)"
client = "Yard Trust (invented)"
prepared_by = "Hand Field Group (invented)"
revision = 1
status = "review"
report_date = 2025-12-15
work_plan = "Work plan HW-P (invented)"
time_zone = "America/Chicago"

[space]
crs = "EPSG:32614"

[plan]
locations = 8
duplicate_rate = 0.1
samplers_per_bag = 30
depth = { value = 3.0, unit = "ft" }
depth_tolerance = { value = 0.5, unit = "ft" }
exposure_days_min = 7
exposure_days_max = 14
spacing = { value = 20.0, unit = "m" }

[publish]
spelling = "uk"

[limits.weather_gap_h]
value = 24
unit = "h"
source = "work plan HW-P, section 3 (invented)"
kind = "plan"

[lab]
name = "Hand Laboratory (invented)"
accreditation = "HL-0 (invented)"
valid_from = 2025-01-01
valid_to = 2026-12-31
methods = ["HL-1 (invented)"]

[signoff]
roles_required = ["PM-1"]

[roles]
PM-1 = "project_lead"
""",
    "locations/locations.csv": """\
location_id,medium,design,rationale,plan_easting,plan_northing,easting,northing,coordinate_method,accuracy_m,surface,surface_thickness_in,building,status,off_site,public_label,comment
SG-1,soil_gas,grid,grid,470010.00,4770010.00,470010.30,4770010.40,GNSS,0.03,asphalt,4,NA,placed,no,SG-1,
SG-2,soil_gas,grid,grid,470030.00,4770010.00,470030.06,4770010.08,GNSS,0.03,vegetation,NA,NA,placed,no,SG-2,
SG-3,soil_gas,grid,grid,470050.00,4770010.00,470051.20,4770011.60,GNSS,0.03,vegetation,NA,NA,placed,no,SG-3,
SG-4,soil_gas,targeted,drum store,470010.00,4770040.00,470010.00,4770040.00,GNSS,0.03,asphalt,4,NA,placed,no,SG-4,
SG-5,soil_gas,added,stain seen,NA,NA,470030.00,4770040.00,GNSS,0.03,vegetation,NA,NA,placed,no,SG-5,
SG-6,soil_gas,grid,grid,470050.00,4770040.00,NA,NA,GNSS,0.03,vegetation,NA,NA,not_done,no,SG-6,Stockpile over the peg.
SG-7,soil_gas,grid,grid,470070.00,4770010.00,470070.03,4770010.04,GNSS,0.03,vegetation,NA,NA,placed,no,SG-7,
SG-8,soil_gas,grid,grid,470070.00,4770040.00,470070.00,4770040.12,GNSS,0.03,vegetation,NA,NA,placed,no,SG-8,
IA-1,indoor_air,targeted,occupied shed,470085.00,4770025.00,470085.00,4770025.00,GNSS,0.03,NA,NA,Shed,placed,no,IA-1,
""",
    "locations/features.geojson": """\
{"type": "FeatureCollection", "features": [
{"type": "Feature", "properties": {"kind": "site_boundary", "name": "Hand Yard", "public": "yes"},
 "geometry": {"type": "Polygon", "coordinates": [[[-99.368551462, 43.08211952], [-99.367322982, 43.08212347],
  [-99.36732621, 43.082663756], [-99.3685547, 43.082659807], [-99.368551462, 43.08211952]]]}},
{"type": "Feature", "properties": {"kind": "building", "name": "Shed", "public": "yes", "occupied": "yes",
 "basement": "no"},
 "geometry": {"type": "Polygon", "coordinates": [[[-99.367569754, 43.082302777], [-99.367446906, 43.082303171],
  [-99.367447444, 43.082393219], [-99.367570293, 43.082392824], [-99.367569754, 43.082302777]]]}},
{"type": "Feature", "properties": {"kind": "paved_area", "name": "Drive", "public": "yes", "surface": "asphalt"},
 "geometry": {"type": "Polygon", "coordinates": [[[-99.368490308, 43.082164742], [-99.36836746, 43.082165137],
  [-99.368369618, 43.082525328], [-99.368492466, 43.082524933], [-99.368490308, 43.082164742]]]}},
{"type": "Feature", "properties": {"kind": "suspected_source", "name": "Drum store", "public": "yes"},
 "geometry": {"type": "Polygon", "coordinates": [[[-99.368455558, 43.082516047], [-99.368406418, 43.082516205],
  [-99.368406634, 43.082552224], [-99.368455774, 43.082552066], [-99.368455558, 43.082516047]]]}},
{"type": "Feature", "properties": {"kind": "utility", "name": "Water main", "public": "yes", "utility_type": "water"},
 "geometry": {"type": "LineString", "coordinates": [[-99.368554431, 43.082614783], [-99.367325941, 43.082618733]]}}
]}
""",
    "field/samplers.csv": """\
sampler_id,label,kind,sampler_type,lot,prepared_on,shipment_id,outcome,note
0101,SG-1,sample,T1,LOT-7,2025-10-22,SH-1,used,
0102,SG-1-D,field_duplicate,T1,LOT-7,2025-10-22,SH-1,used,
0103,SG-2,sample,T1,LOT-7,2025-10-22,SH-1,used,
0104,SG-3,sample,T1,LOT-7,2025-10-22,SH-1,used,
0105,SG-4,sample,T1,LOT-7,2025-10-22,SH-1,used,
0106,SG-5,sample,T1,LOT-7,2025-10-22,SH-1,used,
0107,SG-7,sample,T1,LOT-7,2025-10-22,SH-1,used,
0108,SG-8,sample,T1,LOT-7,2025-10-22,SH-1,lost,
0109,IA-1,sample,T1,LOT-7,2025-10-22,SH-1,used,
0110,FB-1,field_blank,T1,LOT-7,2025-10-22,SH-1,used,
0111,TB-1,trip_blank,T1,LOT-7,2025-10-22,SH-1,used,
0112,SP-1,spare,T1,LOT-7,2025-10-22,SH-1,returned_unused,
""",
    "field/deployments.csv": """\
sampler_id,location_id,duplicate_of,placed_at,retrieved_at,tz,depth_ft,hole_diameter_in,hole_method,sleeve,closure,refusal,moved_ft,soil_type,moisture,odour,condition,individually_bagged,bag_id,hole_restored,placed_by,retrieved_by,scan_file,scan_page,comment
0101,SG-1,NA,2025-10-27T09:02,2025-11-06T10:34,,3.0,1.0,slide_hammer,yes,foil_and_patch,no,0.0,silt,moist,none,intact,yes,RB-1,yes,FS-1,FS-1,,,
0102,SG-1,0101,2025-10-27T09:08,2025-11-06T10:37,,3.1,1.0,slide_hammer,yes,foil_and_patch,no,0.0,silt,moist,none,intact,yes,RB-1,yes,FS-1,FS-1,,,
0103,SG-2,NA,2025-10-27T10:21,2025-11-06T11:06,,2.9,1.0,slide_hammer,no,foil_and_soil,no,0.0,silt,moist,none,intact,yes,RB-1,yes,FS-1,FS-1,,,
0104,SG-3,NA,2025-10-27T11:14,2025-11-07T13:15,,3.0,1.0,slide_hammer,no,foil_and_soil,no,6.6,silt,moist,none,intact,yes,RB-2,yes,FS-1,FS-2,,,Peg on a root.
0105,SG-4,NA,2025-10-28T08:41,2025-11-07T09:18,,3.2,1.0,slide_hammer,yes,foil_and_patch,no,0.0,silt,wet,solvent,water_inside,yes,RB-2,yes,FS-1,FS-2,,,
0106,SG-5,NA,2025-10-28T09:52,2025-11-07T09:56,,3.0,1.0,slide_hammer,no,foil_and_soil,no,0.0,silt,moist,none,intact,yes,RB-2,yes,FS-1,FS-2,,,
0107,SG-7,NA,2025-10-28T10:43,2025-11-07T10:11,,3.0,1.0,slide_hammer,no,foil_and_soil,no,0.0,silt,moist,none,intact,yes,RB-2,yes,FS-1,FS-2,,,
0108,SG-8,NA,2025-10-28T10:58,NA,,3.0,1.0,slide_hammer,no,foil_and_soil,no,0.0,silt,moist,none,not_recovered,NA,NA,yes,FS-1,NA,,,
0109,IA-1,NA,2025-10-28T11:33,2025-11-07T12:04,,NA,NA,NA,NA,NA,NA,0.0,NA,NA,none,intact,yes,RB-2,NA,FS-1,FS-2,,,
0110,SG-2,NA,2025-10-27T10:25,2025-10-27T10:33,,NA,NA,NA,NA,NA,NA,NA,NA,NA,NA,intact,yes,RB-1,NA,FS-1,FS-1,,,
""",  # noqa: E501
    "field/return_bags.csv": """\
bag_id,trip_blank_id,seal_applied,sealed_at,sealed_by,count_declared,shipment_id,note
RB-1,0111,5501,2025-11-06T12:10,FS-1,4,SH-2,
RB-2,NA,5502,2025-11-07T15:40,FS-2,5,SH-2,
""",
    "field/shipments.csv": """\
shipment_id,direction,carrier_ref,packed_at,seal_outer,items_declared,received_at,tz,items_received,seal_received,seal_condition,receipt_note,scan_file
SH-1,out,CR-1,2025-10-24T14:00,7001,12,2025-10-27T08:05,America/Chicago,12,7001,intact,,
SH-2,return,CR-2,2025-11-10T09:20,7002,11,2025-11-12T10:15,America/Denver,11,7002,intact,,
""",
    "field/custody.csv": """\
event_id,subject_kind,subject_id,event,at,tz,by_role,organisation,to_role,signature,seal_number,seal_condition,place,scan_file,comment
E-01,shipment,SH-1,relinquished,2025-10-24T14:05,America/Chicago,LB-1,Hand Laboratory (invented),CR,ink,7001,,laboratory,,
E-02,shipment,SH-1,accepted,2025-10-24T14:05,America/Chicago,CR,Carrier (invented),,electronic,,,laboratory,,
E-03,shipment,SH-1,relinquished,2025-10-27T08:05,America/Chicago,CR,Carrier (invented),FS-1,electronic,,,Hand Yard,,
E-04,shipment,SH-1,received,2025-10-27T08:05,America/Chicago,FS-1,Hand Field Group (invented),,ink,7001,intact,Hand Yard,,
E-05,bag,RB-1,bagged,2025-11-06T12:02,America/Chicago,FS-1,Hand Field Group (invented),,ink,,,,,
E-06,bag,RB-1,sealed,2025-11-06T12:10,America/Chicago,FS-1,Hand Field Group (invented),,ink,5501,,,,
E-07,bag,RB-1,relinquished,2025-11-06T16:05,America/Chicago,FS-1,Hand Field Group (invented),PM-1,ink,,,,,
E-08,bag,RB-1,accepted,2025-11-06T16:52,America/Chicago,PM-1,Hand Field Group (invented),,ink,,,,,
E-09,bag,RB-2,bagged,2025-11-07T15:31,America/Chicago,FS-2,Hand Field Group (invented),,ink,,,,,
E-10,bag,RB-2,sealed,2025-11-07T15:40,America/Chicago,FS-2,Hand Field Group (invented),,ink,5502,,,,
E-11,bag,RB-2,relinquished,2025-11-07T16:20,America/Chicago,FS-2,Hand Field Group (invented),PM-1,ink,,,,,
E-12,bag,RB-2,accepted,2025-11-07T16:20,America/Chicago,PM-1,Hand Field Group (invented),,ink,,,,,
E-13,sampler,0112,relinquished,2025-11-07T16:20,America/Chicago,FS-1,Hand Field Group (invented),PM-1,ink,,,,,
E-14,sampler,0112,accepted,2025-11-07T16:20,America/Chicago,PM-1,Hand Field Group (invented),,ink,,,,,
E-15,shipment,SH-2,sealed,2025-11-10T09:20,America/Chicago,PM-1,Hand Field Group (invented),,ink,7002,,,,
E-16,shipment,SH-2,relinquished,2025-11-10T09:44,America/Chicago,PM-1,Hand Field Group (invented),CR,ink,,,,,
E-17,shipment,SH-2,accepted,2025-11-10T09:44,America/Chicago,CR,Carrier (invented),,electronic,,,,,
E-18,shipment,SH-2,relinquished,2025-11-12T10:15,America/Denver,CR,Carrier (invented),LB-1,electronic,,,laboratory,,
E-19,shipment,SH-2,lab_received,2025-11-12T10:15,America/Denver,LB-1,Hand Laboratory (invented),,ink,7002,intact,laboratory,,
E-20,bag,RB-1,seal_checked,2025-11-12T10:24,America/Denver,LB-1,Hand Laboratory (invented),,ink,5501,intact,laboratory,,
E-21,bag,RB-2,seal_checked,2025-11-12T10:26,America/Denver,LB-1,Hand Laboratory (invented),,ink,5502,intact,laboratory,,
""",  # noqa: E501
    "field/clearance.csv": """\
ticket,requested_at,valid_from,valid_to,scope,location_ids
OB-1,2025-10-20T09:12,2025-10-24T08:00,2025-11-14T23:59,public utilities,
""",
    "field/deviations.csv": """\
deviation_id,date,plan_ref,what,why,effect,affected_ids,agreed_by_role,agreed_on
DV-1,2025-10-27,plan 4.2,SG-3 moved,root at the peg,none expected,SG-3;0104,PM-1,2025-10-27
DV-2,2025-10-28,plan 4.1,SG-6 not drilled,stockpile over the peg,no result there,SG-6,PM-1,2025-10-28
DV-3,2025-10-28,plan 4.1,SG-5 added,stain seen,one point more,SG-5;0106,PM-1,2025-10-28
DV-4,2025-11-07,plan 4.5,sampler at SG-8 not found,hole dug over,no result there,SG-8;0108,PM-1,2025-11-08
""",
    "field/weather.csv": """\
at,rain_mm,temperature_c,pressure_hpa,pressure_kind,source,station,distance_km
2025-10-27T08:00,0.0,6.0,960.0,station,logger (invented),Yard works (invented),2.0
2025-10-28T08:00,1.5,4.0,957.0,station,logger (invented),Yard works (invented),2.0
2025-11-06T16:00,4.0,9.0,951.0,station,logger (invented),Yard works (invented),2.0
2025-11-07T16:00,0.0,11.0,958.0,station,logger (invented),Yard works (invented),2.0
""",
    "lab/analytes.csv": """\
analyte_id,name,cas,group,molar_mass_g_mol,map,order,synonyms,common_lab_contaminant
pce,Tetrachloroethene,127-18-4,chlorinated_ethenes,165.822,yes,1,PCE,no
tce,Trichloroethene,79-01-6,chlorinated_ethenes,131.38,yes,2,TCE,no
cis12dce,"cis-1,2-Dichloroethene",156-59-2,chlorinated_ethenes,96.938,no,3,"cis-1,2-DCE",no
benzene,Benzene,71-43-2,fuel_aromatics,78.114,yes,4,,no
""",
    "lab/lab_samples.csv": """\
lab_sample_id,sampler_id,type,lab_received_at,tz,analysed_at,batch_id,method,modification,dilution,reportable
B1-MB,,method_blank,NA,America/Denver,2025-11-19T08:10,B1,HL-1 (invented),,1,yes
B1-LC,,control,NA,America/Denver,2025-11-19T08:40,B1,HL-1 (invented),,1,yes
L-01,0101,sample,2025-11-12T10:15,America/Denver,2025-11-19T09:10,B1,HL-1 (invented),,1,yes
L-02,0102,sample,2025-11-12T10:15,America/Denver,2025-11-19T09:40,B1,HL-1 (invented),,1,yes
L-03,0103,sample,2025-11-12T10:15,America/Denver,2025-11-19T10:10,B1,HL-1 (invented),,1,yes
L-08,0110,field_blank,2025-11-12T10:15,America/Denver,2025-11-19T10:40,B1,HL-1 (invented),,1,yes
L-09,0111,trip_blank,2025-11-12T10:15,America/Denver,2025-11-19T11:10,B1,HL-1 (invented),,1,yes
B2-MB,,method_blank,NA,America/Denver,2025-11-21T08:15,B2,HL-1 (invented),,1,yes
B2-LC,,control,NA,America/Denver,2025-11-21T08:45,B2,HL-1 (invented),,1,yes
L-04,0104,sample,2025-11-12T10:15,America/Denver,2025-11-21T09:15,B2,HL-1 (invented),,1,yes
L-05,0105,sample,2025-11-12T10:15,America/Denver,2025-11-21T09:45,B2,HL-1 (invented),,1,no
L-06,0106,sample,2025-11-12T10:15,America/Denver,2025-11-21T10:15,B2,HL-1 (invented),,1,yes
L-07,0109,sample,2025-11-12T10:15,America/Denver,2025-11-21T10:45,B2,HL-1 (invented),,1,yes
L-05R,0105,sample,2025-11-12T10:15,America/Denver,2025-11-24T09:20,B2,HL-1 (invented),,10,yes
""",
    "lab/results.csv": """\
lab_sample_id,analyte_id,result_text,value,unit,rl,mdl,lab_qualifier,validation_qualifier,validation_reason,detected,calibration_top
B1-MB,pce,ND,,ng,10,3,U,,,no,5000
B1-MB,tce,ND,,ng,8,2,U,,,no,5000
B1-MB,cis12dce,ND,,ng,12,4,U,,,no,5000
B1-MB,benzene,ND,,ng,20,5,U,,,no,5000
L-01,pce,620,620,ng,10,3,,,,yes,5000
L-01,tce,84,84,ng,8,2,,,,yes,5000
L-01,cis12dce,7,7,ng,12,4,J,,,yes,5000
L-01,benzene,55,55,ng,10,5,,,,yes,5000
L-02,pce,480,480,ng,10,3,,,,yes,5000
L-02,tce,60,60,ng,8,2,,,,yes,5000
L-02,cis12dce,<12,,ng,12,4,U,,,no,5000
L-02,benzene,38,38,ng,6,2,,,,yes,5000
L-03,pce,150,150,ng,10,3,,,,yes,5000
L-03,tce,<8,,ng,8,2,U,,,no,5000
L-03,cis12dce,<12,,ng,12,4,U,,,no,5000
L-03,benzene,26,26,ng,20,5,J,J+,field blank,yes,5000
L-08,pce,ND,,ng,10,3,U,,,no,5000
L-08,tce,ND,,ng,8,2,U,,,no,5000
L-08,cis12dce,ND,,ng,12,4,U,,,no,5000
L-08,benzene,6,6,ng,20,5,J,,,yes,5000
L-09,pce,32,32,ng,10,3,,,,yes,5000
L-09,tce,ND,,ng,8,2,U,,,no,5000
L-09,cis12dce,ND,,ng,12,4,U,,,no,5000
L-09,benzene,ND,,ng,20,5,U,,,no,5000
B2-MB,pce,ND,,ng,10,3,U,,,no,5000
B2-MB,tce,3,3,ng,8,2,J,,,yes,5000
B2-MB,cis12dce,ND,,ng,12,4,U,,,no,5000
B2-MB,benzene,ND,,ng,20,5,U,,,no,5000
L-04,pce,<10,,ng,10,3,U,,,no,5000
L-04,tce,<8,,ng,8,2,U,,,no,5000
L-04,cis12dce,<12,,ng,12,4,U,,,no,5000
L-04,benzene,140,140,ng,20,5,E,,,yes,120
L-05,pce,9900,9900,ng,10,3,E,,,yes,5000
L-05,tce,880,880,ng,8,2,,,,yes,5000
L-05,cis12dce,<12,,ng,12,4,U,,,no,5000
L-05,benzene,<20,,ng,20,5,U,,,no,5000
L-06,pce,44,44,ng,10,3,,,,yes,5000
L-06,tce,12,12,ng,8,2,,,,yes,5000
L-06,cis12dce,<12,,ng,12,4,U,,,no,5000
L-06,benzene,<20,,ng,20,5,U,,,no,5000
L-07,pce,36,36,ng,10,3,,,,yes,5000
L-07,tce,<8,,ng,8,2,U,,,no,5000
L-07,cis12dce,<12,,ng,12,4,U,,,no,5000
L-07,benzene,95,95,ng,20,5,,,,yes,5000
L-05R,pce,10800,10800,ng,100,30,,,,yes,50000
L-05R,tce,860,860,ng,80,20,,,,yes,50000
L-05R,cis12dce,<120,,ng,120,40,U,,,no,50000
L-05R,benzene,<200,,ng,200,50,U,,,no,50000
""",
    "lab/lab_qc.csv": """\
lab_sample_id,qc_type,name,value,unit,lower,upper,limit_source
B1-LC,control,Tetrachloroethene,92,%,70,130,quality plan (invented)
B2-LC,control,Tetrachloroethene,104,%,70,130,quality plan (invented)
L-01,surrogate,Toluene-d8,97,%,70,130,quality plan (invented)
L-02,surrogate,Toluene-d8,95,%,70,130,quality plan (invented)
L-03,surrogate,Toluene-d8,99,%,70,130,quality plan (invented)
L-04,surrogate,Toluene-d8,101,%,70,130,quality plan (invented)
L-05,surrogate,Toluene-d8,88,%,70,130,quality plan (invented)
L-05R,surrogate,Toluene-d8,93,%,70,130,quality plan (invented)
L-06,surrogate,Toluene-d8,64,%,70,130,quality plan (invented)
L-07,surrogate,Toluene-d8,103,%,70,130,quality plan (invented)
""",
    "reference/uptake_rates.csv": """\
sampler_type,analyte_id,medium,rate_ml_min,temperature_c,days_min,days_max,uncertainty_pct,source_title,source_date
T1,pce,indoor_air,0.50,20,7,14,20,Rate table (invented),2025-03-01
T1,tce,indoor_air,0.60,20,7,14,20,Rate table (invented),2025-03-01
T1,benzene,indoor_air,0.40,20,7,14,25,Rate table (invented),2025-03-01
""",
    "reference/screening_levels.csv": """\
level_set,analyte_id,medium,land_use,value,unit,basis,source_title,edition_date,retrieved_on,attenuation_factor,attenuation_source
LS-1,pce,indoor_air,residential,4.0,ug/m3,invented,Level set (invented),2025-05-01,2025-12-01,NA,NA
LS-1,pce,indoor_air,commercial,18,ug/m3,invented,Level set (invented),2025-05-01,2025-12-01,NA,NA
LS-1,tce,indoor_air,residential,0.50,ug/m3,invented,Level set (invented),2025-05-01,2025-12-01,NA,NA
LS-1,pce,soil_gas,residential,130,ug/m3,invented,Level set (invented),2025-05-01,2025-12-01,NA,NA
""",
    "text/summary.md": """\
Of {{ count.locations.planned }} planned points {{ count.locations.recovered }} gave their sampler back.
Tetrachloroethene is highest at SG-4, {{ max.pce }}.
In the air of the shed, Tetrachloroethene at IA-1 is above the residential level on file.
""",
    "text/setting.md": """\
Points: {{ count.locations.planned }}, {{ count.locations.placed }}, {{ count.locations.recovered }},
{{ count.locations.analysed }}, {{ count.locations.usable }}; added {{ count.locations.added }}.

Samplers: {{ count.samplers.listed }} listed, {{ count.samplers.placed }} placed,
{{ count.samplers.recovered }} recovered, {{ count.samplers.lost }} lost, {{ count.samplers.duplicates }} duplicate,
{{ count.samplers.blanks }} blanks, {{ count.samplers.spares }} spare.

Results: {{ count.results }}, detections {{ count.detections }}, compounds {{ count.compounds }}, of which detected
{{ count.compounds.detected }}; bags {{ count.bags }}, shipments {{ count.shipments }}.

Days: {{ exposure.days.median }}, {{ exposure.days.shortest }}, {{ exposure.days.longest }}.

Dates: {{ date.report }}; {{ date.placed.first }}, {{ date.placed.last }}; {{ date.retrieved.first }},
{{ date.retrieved.last }}.

Highest: {{ max.tce }}, {{ max.cis12dce }}, {{ max.benzene }}. Found: {{ detections.pce }}, {{ detections.benzene }}.
Limits: {{ rl.pce }}, {{ rl.cis12dce }}.
""",
    "text/objectives.md": """\
The survey was planned to

* screen the yard for Tetrachloroethene and Benzene.
""",
    "text/conclusions.md": """\
* Tetrachloroethene is higher at SG-1 than at SG-2.
* Trichloroethene was not detected at SG-3.
* In the air of the shed, Tetrachloroethene at IA-1 is above the residential level on file.
""",
    "text/limitations.md": """\
Mass is not concentration.
""",
    "review/comments.csv": """\
comment_id,revision,target,class,text,by_role,raised_on,response,responded_by,state
C-1,1,compound:benzene,question,Which Benzene is left after the blanks?,LR-1,2025-12-11,All but SG-2.,PM-1,answered
""",
    "review/dispositions.csv": """\
finding_key,disposition,reason,by_role,on
water-in-sampler:0105,accepted,Kept and marked.,LR-1,2025-12-11
""",
}


def folder(texts: Mapping[str, str]) -> Folder:
    """Return a folder of files in memory."""
    return Folder({path: _file(path, text) for path, text in sorted(texts.items())}, (), ())


def _file(path: str, text: str) -> InputFile:
    content = text.encode()
    return InputFile(path, hashlib.sha256(content).hexdigest(), content)


@cache
def report(*changes: tuple[str, str, str]) -> Report:
    """Return the whole report of the survey; a change is a file, words that stand once in it, and other words."""
    texts = dict(FILES)
    for path, old, new in changes:
        assert texts[path].count(old) == 1, f"{old!r} stands {texts[path].count(old)} times in {path}"
        texts[path] = texts[path].replace(old, new)
    return compose(check_snapshot(folder(texts)))[1]
