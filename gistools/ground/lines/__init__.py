"""Loops that follow lines of sight."""
