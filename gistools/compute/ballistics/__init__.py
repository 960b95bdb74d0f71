"""The ball: air, flight, bounce and run, clubs, players, dispersion."""
