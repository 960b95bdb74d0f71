"""``python -m gistools``: the command line."""

from gistools.cli import main

main(prog_name="gistools")
