"""Trials: planned, put on plots, rated plot by plot, and what they tell."""
