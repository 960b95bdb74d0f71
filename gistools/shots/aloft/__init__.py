"""Free flight of the ball."""
