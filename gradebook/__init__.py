"""Windtee: a self-hosted gradebook for flight instruction."""

__version__ = "0.1.0"
