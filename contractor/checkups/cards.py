"""The check-up page: its lines as cards, in walking order, under the part that they belong to."""

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import groupby

from contractor.checkups.figures import Figure, figure_of
from contractor.checkups.lines import Sheet, SheetLine, content_sha256
from contractor.checkups.models import Answer, CheckUp, Finding, Signature
from contractor.checkups.queries import last_values
from contractor.checkups.rules.items import STEPS
from contractor.checkups.rules.walk import Part
from contractor.core.units import UNITS
from contractor.systems.models import Component


@dataclass(frozen=True, slots=True, kw_only=True)
class Card:
    """One line with everything that its card shows. ``key`` names it in the page and in addresses."""

    line: SheetLine
    figure: Figure
    unit: str
    key: str
    asks_photo: bool

    @property
    def unit_symbol(self) -> str:
        """The unit as the gauge shows it."""
        return UNITS[self.unit].symbol if self.unit else ""

    @property
    def given_unit(self) -> str:
        """The unit that the field is typed in: that of the answer so far, else the company's."""
        return (self.line.answer.unit if self.line.answer else "") or self.unit

    @property
    def gauges(self) -> tuple[tuple[str, str], ...]:
        """Code and symbol of the units to choose from, where gauges come in two; the company's first."""
        item = self.line.line.item
        codes = [self.unit, *(code for code in (item.unit_us, item.unit_metric) if code and code != self.unit)]
        return tuple((code, UNITS[code].symbol) for code in codes) if len(codes) > 1 else ()

    @property
    def state(self) -> str:
        """good, watch, bad, not_possible, or empty while unanswered."""
        return self.line.verdict.word.replace(" ", "_") if self.line.verdict else ""

    @property
    def draft(self) -> bool:
        """Whether the verdict asks for a finding that nobody has written down yet."""
        return self.state in {"watch", "bad"} and not self.line.findings

    @property
    def to_do(self) -> str:
        """What the checklist proposes to do."""
        return (self.line.verdict.to_do if self.line.verdict else "") or self.line.row.what_to_do


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """The neighbouring cards of one part, or of the house when ``component`` is None."""

    component: Component | None
    cards: tuple[Card, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One stop of the walk."""

    code: str
    word: str
    groups: tuple[Group, ...]

    @property
    def answered(self) -> int:
        return sum(bool(card.state) for group in self.groups for card in group.cards)

    @property
    def count(self) -> int:
        return sum(len(group.cards) for group in self.groups)


@dataclass(frozen=True, slots=True, kw_only=True)
class StillToDo:
    """A line that still asks for something: the key of its card, and the sentence that says what."""

    key: str
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckUpPage:
    """The page of one check-up.

    ``loose_findings`` stand on no card, because they are about a part that came out or about no item at all.
    ``is_signature_stale`` says that something was changed after the owner signed.
    """

    checkup: CheckUp
    steps: tuple[Step, ...]
    answered: int
    count: int
    missing: tuple[StillToDo, ...]
    photos_missing: int
    sentence: str
    loose_findings: tuple[Finding, ...]
    signature: Signature | None
    is_signature_stale: bool

    def card(self, key: str) -> Card | None:
        """The card with this key; None when the check-up has no such line."""
        cards = (card for step in self.steps for group in step.groups for card in group.cards)
        return next((card for card in cards if card.key == key), None)


def checkup_page(checkup: CheckUp) -> CheckUpPage:
    """Everything on the page of a check-up, with a fixed number of queries."""
    sheet = Sheet(checkup)
    before = last_values(checkup)
    steps = []
    by_step = groupby(sheet.lines, key=lambda line: line.row.step)
    for code, in_step in by_step:
        groups = [
            Group(component=component, cards=tuple(_card(line, before, sheet.units) for line in lines))
            for component, lines in groupby(in_step, key=lambda line: line.component)
        ]
        steps.append(Step(code=code, word=STEPS[code], groups=tuple(groups)))
    outcome = sheet.outcome
    on_cards = {finding.pk for line in sheet.lines for finding in line.findings}
    signature = Signature.objects.filter(checkup=checkup).first()
    # What finishing itself writes down comes after the signature and is no change to what was signed.
    is_open = signature is not None and checkup.finished_at is None
    return CheckUpPage(
        checkup=checkup,
        steps=tuple(steps),
        answered=sum(step.answered for step in steps),
        count=sum(step.count for step in steps),
        missing=tuple(
            StillToDo(key=_key(sheet.rows[missing.line.item.code].pk, missing.line.part), sentence=missing.sentence)
            for missing in outcome.missing
        ),
        photos_missing=sum("photo" in missing.sentence.lower() for missing in outcome.missing),
        sentence=outcome.sentence,
        loose_findings=tuple(finding for finding in sheet.findings if finding.pk not in on_cards),
        signature=signature,
        is_signature_stale=is_open and signature is not None and signature.signed_sha256 != content_sha256(checkup),
    )


def _key(item_id: int, part: Part | None) -> str:
    return f"{item_id}-{part.component_id if part else 0}"


def _card(line: SheetLine, before: Mapping[tuple[str, int | None], Answer], units: str) -> Card:
    is_bad = line.verdict is not None and line.verdict.word in {"watch", "bad"}
    return Card(
        line=line,
        figure=figure_of(line, before, units),
        unit=line.line.item.unit(units) or "",
        key=_key(line.row.pk, line.line.part),
        asks_photo=line.row.kind == "photo" or line.row.photo == "always" or (line.row.photo == "when_bad" and is_bad),
    )
