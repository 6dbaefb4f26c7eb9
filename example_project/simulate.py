"""Write the example survey: one invented folder, the same bytes on every machine.

Run as ``python example_project/simulate.py [OUTDIR]``; without ``OUTDIR`` the
script renews the folder that it stands in. Tables, features, photos and
transcripts are made here; settings and prose (``HAND_WRITTEN``) are kept as
plain files beside the script and copied where the folder is another one.
"""

from __future__ import annotations

import sys
from pathlib import Path

import simulate_field as field
import simulate_lab as lab
import simulate_paper as paper
from simulate_base import write_table, write_text
from simulate_ground import features_text, location_rows

HERE = Path(__file__).resolve().parent
HAND_WRITTEN = ("project.toml", "README.md", "field/products.csv", "text/*.md", "review/*.csv", "private/*.csv")


def main(folder: Path) -> None:
    """Write every file of the example survey into a folder."""
    for name, rows in tables().items():
        write_table(folder, name, rows)
    write_text(folder / "locations/features.geojson", features_text())
    for path, text in paper.transcripts().items():
        write_text(folder / path, text)
    write_photos(folder)
    if folder.resolve() != HERE:
        copy_hand_written(folder)


def tables() -> dict[str, list[dict[str, str]]]:
    """Give the rows of every generated table by its path in the folder.

    >>> len(tables()["field/return_bags.csv"])
    2
    """
    return {
        "locations/locations.csv": location_rows(),
        "field/samplers.csv": field.sampler_rows(),
        "field/deployments.csv": field.deployment_rows(),
        "field/return_bags.csv": field.bag_rows(),
        "field/shipments.csv": paper.shipment_rows(),
        "field/custody.csv": paper.custody_rows(),
        "field/clearance.csv": paper.clearance_rows(),
        "field/deviations.csv": paper.deviation_rows(),
        "field/weather.csv": paper.weather_rows(),
        "field/photos.csv": paper.photo_rows(),
        "lab/analytes.csv": lab.analyte_rows(),
        "lab/lab_samples.csv": lab.lab_sample_rows(),
        "lab/results.csv": lab.result_rows(),
        "lab/lab_qc.csv": lab.qc_rows(),
        "reference/uptake_rates.csv": lab.rate_rows(),
        "reference/screening_levels.csv": lab.level_rows(),
    }


def write_photos(folder: Path) -> None:
    """Draw the photos that ``field/photos.csv`` names."""
    for row in paper.photo_rows():
        path = folder / row["file"]
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(paper.photo_bytes(row["location_id"]))


def copy_hand_written(folder: Path) -> None:
    """Copy settings and prose to another folder, byte for byte."""
    for pattern in HAND_WRITTEN:
        for source in sorted(HERE.glob(pattern)):
            target = folder / source.relative_to(HERE)
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_bytes(source.read_bytes())


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else HERE)
