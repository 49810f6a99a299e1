"""How fast the tool is, as ratios against bare floors measured in the same run: `python -m tests.bench`."""
