"""Drawings to scale on paper: board for the client, plans, green detail and sections for the crew."""
