"""Periodic reports: layouts as data, one engine over sealed records, checked before anything is written."""
