"""Hole positions from files."""
