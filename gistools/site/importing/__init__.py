"""Foreign data into a site file: sources, the mapping onto survey layers, holes, terrain."""
