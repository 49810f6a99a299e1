"""Runs one swathbook command line as if it were another moment: the demo plays a season that is over.

    python demo/at.py 2026-10-19T09:55-05:00 close demo/visits/good.json

The command line itself has no such option: nobody can back-date a record with it.
"""

import sys
from datetime import datetime

from records.cli.app import main
from records.clock import FixedClock

if __name__ == "__main__":
    sys.exit(main(sys.argv[2:], FixedClock(datetime.fromisoformat(sys.argv[1]))))
