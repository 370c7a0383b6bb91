"""The round sheet: a technician's day on paper, for the van."""

from contractor.notices.printing import render_pdf
from contractor.visits.board.loads import PrintedRound


def round_sheet(printed: PrintedRound) -> bytes:
    """The PDF of one round: the load first, then the stops with addresses, telephone numbers and access notes."""
    return render_pdf("visits/round_sheet.html", {"round": printed})
