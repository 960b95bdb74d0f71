"""One hole of a site, as every step works on it: :class:`~gistools.hole.model.HoleModel`."""

from gistools.hole.model import HoleModel as HoleModel
