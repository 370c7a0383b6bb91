"""The refusal of a problem that can't be meant as it stands."""

from contractor.core.errors import Refusal


class NotAPlan(Refusal):
    """Something given to the planner contradicts itself; the sentence names whose it is and what to correct."""
