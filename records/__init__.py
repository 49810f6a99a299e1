"""Swathbook: a pesticide application record keeper for people who treat lawns for weeds."""

__version__ = "0.1.0"
