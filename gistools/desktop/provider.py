"""The toolbox of the desktop: an algorithm for each declared step, and for what is run on a whole site."""

from __future__ import annotations

from qgis.core import QgsProcessingProvider

from gistools.desktop.algorithms import StepAlgorithm
from gistools.desktop.design_algorithms import DESIGN_ALGORITHMS
from gistools.desktop.form_algorithms import FORM_ALGORITHMS
from gistools.desktop.site_algorithms import SITE_ALGORITHMS
from gistools.steps.catalogue import STEPS, find


class Provider(QgsProcessingProvider):
    """All algorithms of the toolkit."""

    def id(self) -> str:
        """Return the prefix of the algorithms' names."""
        return "gistools"

    def name(self) -> str:
        """Return the title of the toolbox."""
        return "Golf holes"

    def loadAlgorithms(self) -> None:  # the desktop's own name
        """Make the algorithms from the declarations."""
        for algorithm in (*SITE_ALGORITHMS, *FORM_ALGORITHMS, *DESIGN_ALGORITHMS):
            self.addAlgorithm(algorithm())
        for name in STEPS:
            self.addAlgorithm(StepAlgorithm(find(name)))
