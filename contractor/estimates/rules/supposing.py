"""What-ifs: the facts of a system with something else put in. Nothing is written; the same functions answer."""

from dataclasses import replace
from datetime import date

from contractor.estimates.rules.facts import MEASURED, Given, LineFacts, SystemFacts
from contractor.estimates.rules.fleet import workings_of


def on_another_line(facts: SystemFacts, line: LineFacts, *, on: date) -> SystemFacts:
    """The system with another discharge line. The pumps keep the wear found on the line that is really there."""
    there = workings_of(facts, on=on)
    pumps = []
    for pump in facts.pumps:
        working = there.of(pump)
        if working is None or not working.now_is_measured:
            pumps.append(pump)
            continue
        day = pump.flows[-1].on if pump.flows else None
        kept = Given(value=working.flow_ratio, origin=MEASURED, on=day, note="found on the line that is there")
        pumps.append(replace(pump, flows=(), wear_ratio=kept, wear_ratios=working.ratios))
    return replace(facts, line=line, pumps=tuple(pumps))
