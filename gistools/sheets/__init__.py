"""What people look at: plans, sections, maps, the page of a hole, styles of layers."""
