"""What whoever measures birds again must heed, and how far the figures go."""

from __future__ import annotations

__all__ = ["CAUTIONS", "HOW_FAR"]

_CALM = (
    "No bird is handled longer for the sake of practice. Measure twice only where licence, scheme and local "
    "law allow it and the bird is calm, warm and dry; put it back at the first sign of distress or cold."
)
_FIRST = "Practise on specimens, wing casts or pictures first, and on living birds with a trainer beside you."
_UNSEEN = (
    "Write each measure down before anybody says theirs, and mix the order of the birds before the second "
    "round: a number remembered is not a second measure."
)
CAUTIONS = (_CALM, _FIRST, _UNSEEN)

_BIRDS = (
    "Repeatability belongs to these birds as much as to these hands: among birds of mixed age or sex it is "
    "high whatever the error, so look at the error in its own unit first."
)
_INTERVALS = (
    "The intervals of repeatability and error are exact for normal errors (Lessells & Boag 1987, Wald 1940; "
    "chi-square); those of limits of agreement, too (noncentral t, Carkeet 2015). Biases are Student's with "
    "Bonferroni's correction for all that are compared."
)
_ALL_COUNT = (
    "All values count in all figures; birds that stand out are named, and what would be without them is said "
    "beside it."
)
HOW_FAR = (_BIRDS, _INTERVALS, _ALL_COUNT)
