"""The strategic forms by name; loads nothing heavy."""

from __future__ import annotations

from gistools.design.fairway_forms import FAIRWAY_FORMS
from gistools.design.form_parts import Form
from gistools.design.green_forms import GREEN_FORMS

FORMS: dict[str, Form] = FAIRWAY_FORMS | GREEN_FORMS
