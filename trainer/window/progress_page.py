"""Placeholder to be replaced."""
