"""From plan to ground: quantities, setting-out, CSV, DXF, LandXML, and what comes back."""
