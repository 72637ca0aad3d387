"""The kitchen's time zone, asked once and kept in the experiment."""

from __future__ import annotations

from dataclasses import replace

from fallow.records.changes import behind, change_line
from fallow.records.experiment import Experiment
from fallow.records.journal import Edit, commit
from fallow.records.lock import locked
from fallow.records.package import FILE, checked_time_zone, read_package, write_package
from fallow.records.problems import refuse


def keep_time_zone(experiment: Experiment, *, time_zone: str) -> bool:
    """Write the time zone (IANA) into datapackage.json and say whether that changed it; no time in the record moves.

    Every time carries its own offset, so the zone only says how times typed from now on are read.
    """
    checked_time_zone(time_zone)
    if experiment.time_zone == time_zone:
        return False
    with locked(experiment.folder):
        package, problems = read_package((experiment.folder / FILE).read_bytes())
        refuse(problems)
        line = change_line(did="time zone", rows=(), reason=f"{package.time_zone} to {time_zone}")
        edit = Edit(file=FILE, data=write_package(replace(package, time_zone=time_zone)))
        commit(experiment.folder, [edit, behind(experiment.folder, line)])
    return True
