"""The year's chart: which part of the year's water comes in each month, and the months that suit a check-up."""

from collections.abc import Sequence

from contractor.estimates.charts import SIZE, Axis, Chart, Frame, Writing, axis, bar, diamond, grid, stroke, svg
from contractor.systems.drawing_ink import words

MONTHS = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)


def season_chart(weights: Sequence[float], best: Sequence[int], *, prefix: str, title: str) -> Chart:
    """Twelve bars, January first, from ``inflow_weights``; ``best`` months 1 to 12 carry a diamond and the word."""
    percents = [100.0 * weight for weight in weights]
    frame = Frame(
        x=Axis(low=0, high=12, ticks=(), words=(), title="Month"),
        y=axis([*percents, max(percents) * 1.25], "Part of the year’s water, %"),
    )
    width = (frame.right - frame.left) / 12
    pieces = [grid(frame)]
    writing = Writing(bounds=(frame.left + 2, 0, frame.right + 8, frame.bottom - 2))
    tops = []
    for number, percent in enumerate(percents):
        left, top = frame.left + number * width, frame.up(percent)
        pieces.append(bar(left + 3, top, width - 6, frame.bottom - top, fill="water"))
        letter = MONTHS[number][0]
        pieces.append(words(left + width / 2, frame.bottom + 18, letter, size=SIZE, fill="soft", anchor="middle"))
        tops.append((left + width / 2, top))
        writing.avoid(
            [[(left + 3, frame.bottom), (left + 3, top), (left + width - 3, top), (left + width - 3, frame.bottom)]]
        )
    for month in best:
        x, top = tops[month - 1]
        mark = (x, frame.top + 6)
        pieces.append(stroke([[mark, (x, top)]], width=1, dash="2 3"))
        pieces.append(diamond(mark, size=6))
        writing.keep_clear.append(mark)
        writing.write(["check-up"], [mark], gap=8)
    description = _described(percents, best)
    return Chart(
        svg=svg("".join(pieces) + writing.svg(), title=title, description=description, prefix=prefix, height=284),
        title=title,
        description=description,
        head=("Month", "Part of the year’s water", "Check-up"),
        rows=tuple(
            (MONTHS[number], f"{percent:.0f}%", "suits best" if number + 1 in best else "")
            for number, percent in enumerate(percents)
        ),
    )


def _described(percents: Sequence[float], best: Sequence[int]) -> str:
    most = max(range(12), key=lambda number: percents[number])
    named = " and ".join(MONTHS[month - 1] for month in best)
    suits = f" A check-up does most good in {named}." if best else ""
    return f"Most water comes in {MONTHS[most]}, {percents[most]:.0f}% of the year’s.{suits}"
