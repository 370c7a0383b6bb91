"""The base of every refusal: an expected "no" that a person can read and act on."""


class Refusal(Exception):
    """An action was refused. ``str(refusal)`` is one or two sentences: what happened and what to do.

    ``field`` names the input at fault when there is one, so that a form can put the sentence beside it.
    """

    def __init__(self, sentence: str, *, field: str | None = None) -> None:
        super().__init__(sentence)
        self.sentence = sentence
        self.field = field
