"""Assembly steps and cautions that many forms share."""

CUT_AND_SCORE = (
    "Cut the blank. Score before cutting, while you can measure from every edge: mountain "
    "folds right side up, valley folds with the back up.",
    "Cut the slits up to their scores and take out what is marked to come out. Crease every "
    "score, then open flat.",
)
DECORATE_FIRST = (
    "Decorate the panels now, while they lie flat: inside corners cannot be reached later."
)
DRY = "Hold each joint until the glue grabs."

BLADE = (
    "Blades: cut away from the hand along a metal ruler, and cap the knife when you put it down."
)
HOT_GLUE = "Hot glue burns: keep fingers off the bead and press with a stick or a folded cloth."
FOOD = "Food must not touch card, ink or glue unless sold for food: line it or wrap the food."
SMALL_PARTS = "Small parts: keep offcuts and loose trimmings away from small children."
LOAD = "Test it with the weight it has to carry before you give it away."
CORD = "Keep cords and ribbons away from small children."

CAUTIONS = (BLADE, HOT_GLUE)
