"""The day: which stops there are, what is in the tanks, what to look at again, what falls due."""
