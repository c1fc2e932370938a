"""A grower's own log beside the build: reading it, what is out of band, where it is going, what to do next.

    log = read("my-log.csv")
    print(log)                                # how many days, and what was kept out and why
    log.frame                                 # a pandas DataFrame
    log.values("un-ionised ammonia")          # a quantity beside log.dates
    for action in actions(log, build):        # the most urgent first
        print(action)
    print(biofilter(log, build))              # what the beds do, beside what the build assumes

`cells` and `dates` know what may stand in a header and a cell, `logfile` the file; `bands` what is good and which way it goes,
`latest` what still counts of it, `biofilter` the balance of nitrogen, `advice` what to do; `own` finds the log that a build names,
`logbook` adds to it.
"""

from aquaplumb.review.readings.advice import URGENCIES, Action, actions
from aquaplumb.review.readings.bands import Band, Leap, Spell, Trend, bands, leaps, spells, trend
from aquaplumb.review.readings.biofilter import Biofilter, biofilter, system_water
from aquaplumb.review.readings.log import Log, Problem
from aquaplumb.review.readings.logfile import demos, read
from aquaplumb.review.readings.own import NextSteps, blank_log, judge, next_steps, own_log, steps, summary

__all__ = [
    "URGENCIES",
    "Action",
    "Band",
    "Biofilter",
    "Leap",
    "Log",
    "NextSteps",
    "Problem",
    "Spell",
    "Trend",
    "actions",
    "bands",
    "biofilter",
    "blank_log",
    "demos",
    "judge",
    "leaps",
    "next_steps",
    "own_log",
    "read",
    "spells",
    "steps",
    "summary",
    "system_water",
    "trend",
]  # fmt: skip
