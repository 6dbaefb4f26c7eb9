"""Name the packages: each folder of the program that holds modules, and the template folder under a name inside it."""

from pathlib import Path

from setuptools import setup

ROOT = Path(__file__).parent
FOLDERS = {module.parent.relative_to(ROOT) for module in ROOT.glob("sitegen/**/*.py")}

setup(packages=[*sorted(".".join(folder.parts) for folder in FOLDERS), "sitegen.project_template"])
