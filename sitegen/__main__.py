"""Run as ``python -m sitegen``."""

from sitegen.cli import main

main()
