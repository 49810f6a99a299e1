"""Closing a visit: read what was typed, work out what follows, check, seal or hold."""
