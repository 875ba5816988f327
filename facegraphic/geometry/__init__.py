"""Plane geometry in mm: immutable paths, outlines of faces, and regions for measuring and offsetting."""
