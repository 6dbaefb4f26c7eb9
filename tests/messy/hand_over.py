"""Write the invented survey of :mod:`tests.messy.raw` as files, raw and typed, to follow the handbook's page with.

python -m tests.messy.hand_over handed_over
"""

from __future__ import annotations

import sys
from pathlib import Path

from tests.messy import raw
from tests.messy.typed import SETTINGS_FILE, TEXTS, TYPED, as_csv, settings

TEMPLATE = Path(__file__).parents[2] / "project_template"


def hand_over(out: Path) -> None:
    """Write what instruments, crew and laboratory hand over into ``out``, and what is typed into ``out/typed``."""
    files = {
        "gps.gpx": raw.waypoints(),
        "features.kml": raw.shapes(),
        "weather.csv": raw.logger_table(),
        "deployments.xlsx": raw.crew_log(),
        "K5117.xlsx": raw.lab_workbook(),
        "K5117-rev1.xlsx": raw.lab_workbook(again=True),
        f"typed/{SETTINGS_FILE}": settings((TEMPLATE / SETTINGS_FILE).read_bytes()),
    }
    files |= {f"typed/{path}": as_csv(rows) for path, rows in TYPED.items()}
    files |= {f"typed/text/{name}.md": f"{text}\n".encode() for name, text in TEXTS.items()}
    for path, content in files.items():
        (out / path).parent.mkdir(parents=True, exist_ok=True)
        (out / path).write_bytes(content)


if __name__ == "__main__":
    hand_over(Path(sys.argv[1]))
