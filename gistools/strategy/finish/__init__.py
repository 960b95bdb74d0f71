"""Where the shots of a bag finish on a ground."""
