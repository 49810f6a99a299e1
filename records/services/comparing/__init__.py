"""Which product works on a target, how fast, and what it costs."""
