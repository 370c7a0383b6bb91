"""Refusals of the desk: files that can't be imported."""

from collections.abc import Sequence

from contractor.core.errors import Refusal

SAVE_AS = "Open it in the spreadsheet program, save it as “CSV UTF-8” and choose that file."


class RegisterNotReadable(Refusal):
    """The file is no text table; ``what`` says what it is instead."""

    def __init__(self, what: str) -> None:
        super().__init__(f"This file {what}. {SAVE_AS}", field="register")


class RegisterEmpty(Refusal):
    def __init__(self) -> None:
        super().__init__("This file is empty. Choose the file that holds the register.", field="register")


class RegisterWithoutHeader(Refusal):
    def __init__(self) -> None:
        super().__init__(
            "No row with column names was found among the first 20. Put names such as Customer name, Address, Town, "
            "ZIP and Install date above the columns and try again.",
            field="register",
        )


class RegisterWithoutRows(Refusal):
    def __init__(self) -> None:
        super().__init__(
            "There are column names but no rows below them. Choose the file with the rows.", field="register"
        )


class RegisterLacksColumns(Refusal):
    """``missing`` lists the columns in words."""

    def __init__(self, missing: Sequence[str]) -> None:
        several = len(missing) > 1
        listed = f"{', '.join(missing[:-1])} and {missing[-1]}" if several else missing[0]
        super().__init__(
            f"The register lacks {'columns' if several else 'a column'} for {listed}. "
            "Add what is missing, or rename the column that holds it, and try again.",
            field="register",
        )


class QuoteNeverClosed(Refusal):
    """A quotation mark swallowed the rows behind it; ``line_number`` is where it stands."""

    def __init__(self, line_number: int) -> None:
        super().__init__(
            f"A quotation mark in row {line_number} is never closed, so the rows behind it can't be told apart. "
            "Close or remove it and try again.",
            field="register",
        )
