"""Which texts that tell what to do are followed in a trial, and which not: texts as message_texts.py has them."""

from __future__ import annotations

FOLLOWED: dict[str, str] = {
    "add one of {}, or put the values into [defaults.{}]": "where-without-condition",
    "add the column {}": "column-missing",
    "add the offset, as in 2025-11-02T01:30-06:00": "time-occurs-twice",
    "add those that were measured to {}, each named as its row names it": "positions-differ",
    "add {}": "file-missing",
    "ask the laboratory for the times: without them the report tells none": "supplied-day-alone",
    "ask the laboratory what it means": "detected-below-mdl",
    "ask the laboratory which of the runs it reports": "no-run-reported",
    "ask the laboratory which of the two holds": "two-results",
    "ask the laboratory which of the two holds; the column is used": "two-limits",
    "ask the laboratory which one holds; the first is used": "two-samplers",
    ('ask the laboratory, or write blank = "not_reported" under [source] if there is no result'): "no-result",
    "change the two about, or correct them": "range-turned",
    "check whether crs should be {}": "points-outside-all",
    "close the braces on the same line": "token-open",
    "compare it with its label, and keep the column formatted as text": "id-as-number",
    "compare it with its label: spreadsheets turn ids such as 3-2 into dates": "id-as-date",
    (
        "compare its columns, units, non-detects and samples with the laboratory's "
        "report, then write the role code of who did as mapping under [confirmed]"
    ): "mapping-unconfirmed",
    "compare the file with the signed report, row by row if need be": "total-mistyped",
    (
        "compare the totals under [control] with the signed report, then write the role "
        "code of who did as control under [confirmed]"
    ): "control-unconfirmed",
    (
        "compare them with the labels, and give the column the text format: number cells lose leading zeros"
    ): "serial-as-number",
    "copy project.toml from the template and fill it in": "settings-missing",
    ("copy the id from its label or the original document, into a cell formatted as text"): "id-turned-number",
    "correct header_row under [source]": "header-of-a-blank-row",
    ("correct it or take it out under [source]; the laboratory may have changed its file"): "skipped-in-vain",
    "correct it, or add the compound to analytes.csv": "compound-of-none",
    ("correct or add them in lab/lab_samples.csv, or skip rows or columns that hold no results"): "sample-not-listed",
    "correct that line": "settings-unreadable",
    "correct the ends of the range": "range-of-too-many",
    "correct the offset or the zone": "offset-disagrees",
    "correct the unit: mass is not concentration": "unit-of-another-kind",
    "correct thousands or decimal": "signs-alike",
    "correct {}": "settings-unreadable",
    ("declare its signs as thousands and decimal under [source], or ask the laboratory"): "limit-with-comma",
    (
        'declare the form under [source] of the mapping file, as in dates = "month/day/year hour:minute"'
    ): "times-not-declared",
    "export it again as {}": "points-unusable",
    "export the layer in WGS 84 degrees, longitude first": "feature-unusable",
    "fill in the cell, or let one of the two where rows ask for more": "default-ambiguous",
    "fill in {}": "cell-blank",
    "find out from the custody form which of the two was analysed": "another-sampler",
    "find out which holds: the row of {} is used. Take it out where the file's holds": "supplied-differs",
    (
        "find out which of the two stands: if {} does, move {} to records/ and write "
        'replaces = "{}" under [source] of {}; else name {} there as file, with its '
        'SHA-256, and move {} to records/ as replaces = "{}"'
    ): "deliverable-reissued",
    ("give the cell a plain number format, and write the sign or unit where it belongs"): "serial-with-sign",
    (
        "give the column the text format and type it again, if it was no date: spreadsheets make dates of 3-2"
    ): "text-typed-as-date",
    (
        "give the column the text format and type the id again: spreadsheets make dates of ids such as 3-2"
    ): "serial-as-date",
    (
        "give those that were placed or travelled as blanks their rows there, and spares a row of their own here"
    ): "kind-not-derived",
    "keep one site_boundary": "feature-doubtful",
    "keep the one that holds {} features{}": "features-several",
    "keep the one that is right, and move the other to records/ or remove its sheet": "table-on-two-sheets",
    "leave it, or remove it": "sheet-of-notes",
    "leave the label blank, or give its sampler a row": "range-with-label",
    "look it up in the original": "cas-turned-date",
    "look the time up in the field notes: clocks were put forward over it": "time-does-not-exist",
    "look the time up in the field sheet: write {} if that is meant": "time-at-night",
    'map type, or write type = "sample" under constants of [lab_samples]': "kinds-not-mapped",
    "move it to records/ if it is part of the record": "file-unknown",
    "move it to {} or {}: a sign-off changes the file that it stands in": "signoff-in-workbook",
    "name in the sentence the points that it compares": "claim-limited",
    'name its column as unit under [columns], or write unit = "…" under [constants]': "unit-not-mapped",
    "name that column": "no-column-of-ids",
    "name the laboratory's column for {} in the mapping file": "column-not-there",
    ("name the point as its row does, add its row, or take it out of the file if it is no point"): "positions-differ",
    "name the sheet as sheet under [source] of the mapping file": "sheet-not-named",
    "name the sheet that has the table {}, and no other": "two-sheets",
    (
        "open it in a spreadsheet, remove what is no part of its tables, and save it as "
        ".xlsx, or save each as CSV under its table's name"
    ): "no-workbook",
    "put a copy in its place": "link",
    "put it into lab/, and write its path as file under [source]": "file-not-there",
    "put it there, or correct file under [points]": "points-not-there",
    "put the file in its place": "pipe",
    "put the former issue there as it was received, as {}, or take out replaces": "replaced-unreadable",
    "put the received file back, or check the new one and write its sha256, {}": "another-file",
    "put {} into a where row with {}": "default-by-role",
    "redraw it; it is used as mended here": "crossed",
    "remove it, or set layout to crosstab": "cross-in-long",
    "remove one of the two rows": "duplicate-key",
    "remove what is no part of the table, or split the file": "too-many-columns",
    "rename it": "name-not-utf-8",
    "rename it to {}": "sheet-renamed",
    "rename it to {} if that is what it is": "sheet-renamed",
    "restore it from the laboratory's list": "cas-unreadable",
    ("restore it from the laboratory's report: spreadsheets make dates of ids such as 3-2"): "lab-id-as-date",
    "save the file as UTF-8, or {}": "encoding-wrong",
    (
        "say what it means in the mapping file: tokens or less_than_prefix under "
        "[nondetect], thousands, decimal or joined_qualifiers under [source]; or ask the "
        "laboratory"
    ): "token-not-declared",
    "set condition to what was found, or say in the report why it is intact": "comment-watch-word",
    "split the file or keep it elsewhere": "large",
    "take out the one that does not stand": "points-twice",
    "take {} out of defaults": "default-refused",
    "use one of these words": "unit-unknown",
    "use our qualifiers": "qualifier-of-none",
    "write a name such as America/Chicago, or leave tz blank for the project's zone": "zone-unknown",
    "write both with all their zeros": "range-without-zeros",
    (
        'write each under [names] of the mapping file, as in {} = "…" (an analyte_id), or add it to analytes.csv'
    ): "name-not-mapped",
    'write each under [qc] of the mapping file, as in {} = "skip"': "kind-of-row-not-mapped",
    (
        'write each under [qualifiers] of the mapping file, from the laboratory\'s own key, as in {} = "…"'
    ): "qualifier-not-mapped",
    "write each under [units] with its factor, as in ng = 1": "no-units",
    'write each under words of [lab_samples] in the mapping file, as in {} = "…"': "sample-kind-unmapped",
    (
        "write each with its factor under [units] of the mapping file, as in {} = 1000 where one is 1,000 ng"
    ): "unit-not-declared",
    "write it as such a table": "where-no-table",
    "write one of {}, or take it out": "defaults-of-results",
    "write over the whole row, or delete it": "example-row-left",
    'write sha256 = "{}" under [source]': "delivery",
    "write the other too, or take this one out": "kinds-without-column",
    "write the values as set = { column = value }": "where-without-values",
    ('write under [files."{}"] in project.toml: encoding = "{}", then look at its letters once'): "encoding-wrong",
    "write {{ {} }}": "token-unknown",
    "write {}": "setting-missing",
    "write {} if that is the one meant": "longitude-sign",
    "write {} if that is what its label says: leading zeros count": "serial-without-zeros",
    "write {} in {}": "setting-missing",
    "write {}, or another point": "point-unknown-in-text",
    "write {}, or other words for what is no class": "withhold-misspelt",
    "write {}: the cell holds {}": "cas-dashes",
    "write {}:{}": "number-unreadable",
    "write, for example: {}": "over-claim",
    "{}: a spreadsheet made a date of it": "cas-turned-date",
    "{}: {}{}{}": "file-missing",
    "{}; to carry it along as it is, begin its name with x_": "column-unknown",
}
"""The trial in which a text is followed, by its name."""

NOT_FOLLOWED: dict[str, tuple[str, ...]] = {
    "a file of another program, or a shape, that only tests/project makes": (
        "close the program that has it open, so that the log goes",
        "correct columns under [points]",
        "correct layers under [features]",
        "correct the shape, or leave it blank",
        "correct them, or write line as its shape",
        "draw it again",
        "draw it, or leave it out",
        "export it again",
        "export it as one of these",
        "export the features again",
        "export them in one",
        "export without it",
        "fill in feature",
        "keep one pair of columns",
        "make each shape a feature of its own",
        "make each shape a feature of its own, of straight lines",
        "number the corners 1, 2, 3 …",
        "put it there, or correct files under [features] in project.toml",
        "redraw it",
        "redraw it without crossings",
        "save what they show into this file",
        "set the coordinate system of the layer and save it",
        "write crs under [space] in project.toml, or give longitude and latitude",
        "write it the same in every row, or once",
        "write under [features] in project.toml the encoding of its texts, such as encoding = {}",
        "write under [features] in project.toml which are to be read: layers = {}",
        "write under [points] in project.toml: {}, of {}",
        'write yes or no, or under [features] in project.toml: words = { {} = "no" }',
        "zip the .shp with its .dbf and .prj into locations/features.zip",
        "zip the shapefiles alone",
        "zip them again",
        "zip {}{} with it ({})",
    ),
    "a bound of size or number: nothing of the record is wrong": (
        "leave out tracks",
        "leave out what the report does not need",
        "leave some out",
        "put them into the table",
        "redraw the shape with fewer and shorter edges",
        "shorten or leave out the property",
        "simplify the file",
        "simplify the shape or divide it",
        "simplify the shapes",
        "take out what is no setting of the format",
        "take out what the mapping does not need",
    ),
    "a note that asks for a look": (
        "compare the map with the field notes",
        "compare the map with the plan it was drawn from",
        "compare them with the report: number cells lose leading zeros",
        "look at them once",
        "look at them: they are read like the others",
    ),
    "asks the laboratory for another file, which no person of the survey can write": (
        "ask the laboratory for a file with a name for each column",
        "ask the laboratory for a file with different names",
        "ask the laboratory for a file with values, or open, recalculate and save a copy",
        "ask the laboratory for both limits",
        "ask the laboratory for text cells, or map a CSV copy of the sheet",
        "ask the laboratory, or list the row's word as skip under [qc]",
    ),
    "waits to be tried": (
        "add the others",
        "correct it",
        "correct {} under rows of [{}]",
        ("find out which of the two counts, map that one with lab/<name>.map.toml and move the other to records/"),
        (
            "find out which of the two stands, move the other and its mapping to records/, "
            'and write replaces = "{}" (or the other) under [source] of the mapping that '
            "stays"
        ),
        "map a reportable column, skip the row that does not count, or remove one of the two",
        "rename it to {} if that is what it is, else {}",
        "save it as UTF-8",
        "save the file as UTF-8",
        "save the sheet as CSV beside it, and map that file",
        "write digits alone",
        "write it",
        'write its encoding under [files."{}"] in project.toml, such as encoding = "cp1252"',
        "write one of the tables",
        "write the date in that form",
        "write the time in that form",
        "write them as {}",
        "{}; decide whether that is enough, and write a disposition",
    ),
}
"""Texts that nobody has followed in a trial, by the reason."""
