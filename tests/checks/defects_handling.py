"""Single defects of the example survey: handling, forms, photographs, and results that stand out."""

from __future__ import annotations

from io import BytesIO

from builders import Change, cell, content, settings_added, without_rows
from defects import ANALYTES, BAGS, CUSTODY, DEPLOYMENTS, LOCATIONS, PHOTOS, SHIPMENTS, one, several
from PIL import ExifTags, Image


def own_limit(name: str, value: float, unit: str = "") -> Change:
    """Return the change that gives a limit the project's own value."""
    return settings_added(f'[limits.{name}]\nvalue = {value}\nunit = "{unit}"\nsource = "the plan"\nkind = "plan"')


def picture(*, position: bool, kind: str = "JPEG") -> bytes:
    """Return a small picture with Exif data, with or without the place where it was taken."""
    exif = Image.Exif()
    exif[ExifTags.Base.Make] = "invented"
    if position:
        exif.get_ifd(ExifTags.IFD.GPSInfo).update(
            {ExifTags.GPS.GPSLatitudeRef: "N", ExifTags.GPS.GPSLatitude: (43.0, 4.0, 57.0)}
        )
    out = BytesIO()
    Image.new("RGB", (8, 6), "grey").save(out, kind, exif=exif)
    return out.getvalue()


HANDLING = (
    one("seal-late", "flag", BAGS, 3, own_limit("seal_hours", 7, "h")),
    one("not-individually-bagged", "flag", DEPLOYMENTS, 3, cell(DEPLOYMENTS, "0047103", "individually_bagged", "no")),
    one("form-not-scanned", "flag", CUSTODY, 24, cell(CUSTODY, "E-0023", "scan_file", "")),
    one(
        "form-not-scanned",
        "flag",
        DEPLOYMENTS,
        3,
        cell(DEPLOYMENTS, "0047103", "scan_file", ""),
        name="sheet-unscanned",
    ),
    one("form-not-scanned", "flag", SHIPMENTS, 3, cell(SHIPMENTS, "SH-R1", "scan_file", ""), name="receipt-unscanned"),
    one("photo-time-off", "flag", PHOTOS, 3, cell(PHOTOS, "photos/sg-37.png", "taken_at", "2025-11-06T15:49")),
    one("photo-position", "note", "photos/sg-35.png", None, content("photos/sg-35.png", picture(position=True))),
    one("blank-affected-mostly", "flag", ANALYTES, 12, own_limit("blank_share_pct", 35, "%")),
    one("local-low", "flag", LOCATIONS, 32, own_limit("local_low_share", 0.3)),
    several(
        "outward-form-missing",
        "a shipment of which nothing is on record but its row has no holder on the way, nor from receipt to placing",
        (
            ("outward-form-missing", "flag", SHIPMENTS, 2),
            ("custody-gap", "flag", SHIPMENTS, 2),
            ("custody-gap", "flag", SHIPMENTS, 2),
        ),
        without_rows(CUSTODY, lambda row: row["subject_id"] == "SH-O1"),
        cell(SHIPMENTS, "SH-O1", "scan_file", ""),
    ),
)
