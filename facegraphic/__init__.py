"""Print-ready legends and artwork for drilled die-cast boxes."""

__version__ = "0.1.0"
