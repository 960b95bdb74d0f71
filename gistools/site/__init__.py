"""The site file: reading, checks, all-or-nothing writing, provenance, the sample site."""
