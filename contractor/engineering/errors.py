"""What goes wrong in a computation: bad input is an error, a doubtful answer is a caution."""


class BadInput(ValueError):
    """No answer exists for this input. The message is one sentence that names the argument and its value.

    ``argument`` and ``value`` are kept, so that a form can put the sentence beside the field it came from.

    >>> print(BadInput("diameter_m", -0.04, "must be greater than zero"))
    diameter_m must be greater than zero, but is -0.04.
    """

    def __init__(self, argument: str, value: object, rule: str) -> None:
        super().__init__(f"{argument} {rule}, but is {value}.")
        self.argument = argument
        self.value = value


class Caution(UserWarning):
    """An answer exists but deserves doubt: the input lies outside the range for which the formula was checked.

    Functions that return a plain number issue it as a Python warning; functions that return a result put the
    same sentences into the result's ``cautions``.
    """
