"""The one kind of error that is expected and safe to show to the person who caused it."""


class Refusal(Exception):
    """An expected "no": the message says what is wrong and how to mend it.

    `where` names the field, piece or line it is about, so that a form can put the
    message beside it and a command can print it as JSON.
    """

    def __init__(self, message: str, *, where: str = "") -> None:
        super().__init__(message)
        self.message = message
        self.where = where
