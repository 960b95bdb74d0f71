"""Inside a GIS desktop: steps in a process of their own, layers shown in the project."""
