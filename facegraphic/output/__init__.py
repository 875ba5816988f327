"""Scenes to files: SVG through svgwrite, PNG and PDF through cairo, the report."""
