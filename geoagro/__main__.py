"""Run the command line with `python -m geoagro`."""

from geoagro.cli.main import main

main()
