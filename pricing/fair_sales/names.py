"""What an item on the table is called."""

from pricing.fairs.models import FairDesign


def words_of(item: FairDesign) -> str:
    """Return what sets an item apart from others of its design; rows from `with_items()`."""
    words = [item.colourway.name] if item.colourway else []
    for option in item.version.options.all():
        answers = {each.key: each for each in option.choices.all()}
        chosen = answers.get(item.choices.get(option.key, ""))
        if chosen is not None and not chosen.is_default:
            words.append(f"{option.name}: {chosen.name}")
    return ", ".join(words)


def name_of(item: FairDesign) -> str:
    """Return the design's name with what sets the item apart."""
    words = words_of(item)
    design = item.version.design.name
    return f"{design} ({words})" if words else design
