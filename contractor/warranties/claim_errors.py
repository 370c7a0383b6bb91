"""Refusals about what follows a claim's report: questions, the decision, the repair, the appeal."""

from datetime import date

from contractor.core.errors import Refusal


def _day(on: date) -> str:
    return f"{on:%B} {on.day}, {on.year}"


class QuestionNeeded(Refusal):
    def __init__(self) -> None:
        super().__init__("Write the question as the owner should read it.", field="words")


class QuestionWaits(Refusal):
    def __init__(self) -> None:
        super().__init__(
            "A question to the owner is not answered yet. Wait for the answer, or write down what they said by "
            "telephone; then ask the next one.",
            field="words",
        )


class AnswerNeeded(Refusal):
    def __init__(self) -> None:
        super().__init__("Write the answer in a few words; photos alone don't say what they show.", field="answer")


class AlreadyAnswered(Refusal):
    def __init__(self) -> None:
        super().__init__("This question is answered already, and the answer stays as it is. Nothing more is needed.")


class RecordWaits(Refusal):
    """A check-up by somebody else, sent in by the owner, may close the gap that the decision would turn on."""

    def __init__(self, provider: str, done_on: date) -> None:
        super().__init__(
            f"The owner has sent in a check-up by {provider} of {_day(done_on)}, and it is not decided yet. Accept or "
            "refuse that record first: it may close the gap in care."
        )


class NotDecidedYet(Refusal):
    def __init__(self) -> None:
        super().__init__("This claim is not decided yet, so there is nothing to appeal. Tell the office what is new.")


class AppealThere(Refusal):
    def __init__(self) -> None:
        super().__init__(
            "There is an appeal of this claim already, and one second look is what we offer. What is new can still be "
            "told by telephone or letter."
        )


class AppealTooLate(Refusal):
    def __init__(self, last_on: date) -> None:
        super().__init__(
            f"An appeal was possible through {_day(last_on)}, and that day has passed. Call the office if something "
            "kept you from writing. Your rights under the law stay as they are.",
            field="received_on",
        )


class AppealBeforeDecision(Refusal):
    def __init__(self, decided_on: date) -> None:
        super().__init__(
            f"The claim was decided on {_day(decided_on)}; an appeal can't have come in before that.",
            field="received_on",
        )


class AppealWordsNeeded(Refusal):
    def __init__(self) -> None:
        super().__init__("Write in a few words what the decision got wrong or missed.", field="words")


class NoAppeal(Refusal):
    def __init__(self) -> None:
        super().__init__("No appeal of this claim waits for a decision. Look at the claim again.")


class SameDecider(Refusal):
    def __init__(self, name: str) -> None:
        super().__init__(
            f"{name} decided this claim the first time, so somebody else has to decide the appeal. Ask a colleague "
            "from the office or the manager to sign in and do it."
        )


class AppealWorse(Refusal):
    def __init__(self) -> None:
        super().__init__(
            "This would leave the owner with less than the first decision did, and nobody may lose by asking for a "
            "second look. Leave cause and judgement as they were decided first, or better for the owner."
        )


class NothingToRepair(Refusal):
    def __init__(self) -> None:
        super().__init__(
            "A repair under the warranty is asked for once the claim is covered. Decide it first, have somebody look "
            "before that, or ask for an ordinary repair from the house file."
        )


class LetterLost(Refusal):
    def __init__(self) -> None:
        super().__init__(
            "The file of this letter is lost, and made again it would not be the same. Put it back from a backup."
        )
