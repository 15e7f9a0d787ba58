"""Assembly steps and cautions that many forms share."""

CUT_AND_SCORE = (
    "Cut the blank. Score it while all its edges are there to measure from: mountain folds with "
    "the good side up, valley folds with the back up.",
    "Cut the slits up to their scores and take out what is marked to come out. Fold every score "
    "sharply and open it again.",
)
DECORATE_FIRST = (
    "Decorate the panels now, while they lie flat: inside corners cannot be reached later."
)
DRY = "Press the glued places until the glue holds before you go on."

BLADE = (
    "Blades: cut away from the hand along a metal ruler, and cap the knife when you put it down."
)
HOT_GLUE = "Hot glue burns: keep fingers off the bead and press with a stick or a folded cloth."
FOOD = (
    "Food must not touch card, ink or glue unless they are sold for it: line it or wrap the food."
)
SMALL_PARTS = "Small parts: keep offcuts and loose trimmings away from small children."
LOAD = "Try it with the weight it is to carry before you give it away."
CORD = "Cords and ribbons: not for small children."

CAUTIONS = (BLADE, HOT_GLUE)
