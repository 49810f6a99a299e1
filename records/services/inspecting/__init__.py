"""A records inspection: what was asked for, gathered once, told on paper and in sheets, and the handing over sealed."""
