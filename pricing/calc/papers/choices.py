"""What a customer's paper says of the options chosen."""


def tells_something(choice: str) -> bool:
    """Whether `Option: choice` is worth reading: `Name on the tag: no name` is not.

    A choice that says nothing, no, none or “no …” leaves something out: nothing to print.
    """
    answer = choice.rpartition(": ")[2].strip().casefold()
    return answer not in ("", "no", "none") and not answer.startswith("no ")
