"""The terrain as arrays: heights, slopes, sightlines, shaping and volumes."""
