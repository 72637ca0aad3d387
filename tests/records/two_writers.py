"""Write rows to one experiment while another process does the same: ``two_writers.py FOLDER JAR ROWS``."""

from __future__ import annotations

import sys
from datetime import UTC, datetime, timedelta

from fallow.records.experiment import Experiment

if __name__ == "__main__":
    folder, jar, rows = sys.argv[1], sys.argv[2], int(sys.argv[3])
    record = Experiment.open(folder)
    for row in range(rows):
        at = datetime(2026, 1, 2, tzinfo=UTC) + timedelta(minutes=row)
        record.add_reading(jar=jar, feed=1, at=at, height=row, note=f'row {row} of {jar}, "quoted"')
