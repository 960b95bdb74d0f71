"""Computing on arrays and geometries alone: terrain, layout, ballistics, decision."""
