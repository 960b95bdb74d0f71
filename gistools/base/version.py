"""Version of the toolkit."""

__version__ = "0.1.0"
