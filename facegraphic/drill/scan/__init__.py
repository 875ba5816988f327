"""Hole positions off a scan or photo. Needs OpenCV, which is loaded when a picture is looked at and not before."""
