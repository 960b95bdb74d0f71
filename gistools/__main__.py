"""``python -m gistools``: the command line."""

from gistools.cli.main import main

main(prog_name="gistools")
