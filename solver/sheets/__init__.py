"""Sheets: what a maker builds from."""
