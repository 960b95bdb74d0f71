"""One hole of a site as the steps see it."""
