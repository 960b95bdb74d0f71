"""The ball and who hits it: air, flight, bounce and run, clubs, players, spread."""
