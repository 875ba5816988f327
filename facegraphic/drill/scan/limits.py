"""What pictures are taken, and what counts as an edge or a hole: every figure of the scan room.

Where no other source stands beside a figure it was chosen by measuring rendered scans and photos
(tests/benchmarks/scans.py).
"""

from facegraphic.stock.limits import limit

MOST_PIXELS = limit("scan-pixels")
MOST_BYTES = limit("scan-bytes")
MOST_VIEW = limit("scan-view")
MOST_SPOTS, MOST_SPECKS = limit("scan-spots"), limit("scan-specks")
LEAST_SIDE = 200  # pixels
LEAST_DPI, MOST_DPI = 72, 4800

COARSE = 1000  # pixels along the longer side, for finding what stands where
LEAST_SPREAD = 6.0  # grey levels of 255 between the darkest and the lightest hundredth: less is a blank picture
LEAST_STEP = 10.0  # grey levels between a face and what lies round it
LEAST_SHARE = 0.03  # of the picture, for a face
SECOND = 0.35  # a second thing as large as this share of the first is a second box
FULLNESS = 0.9  # of its hull, and the hull of its four sides: less is no box face
SIDE_ENDS = 0.16  # of each side, left out at either end: there the corners are round
SIDE_RAYS = 300
SIDE_SEEN = 0.5  # of a side's length, at least
SIDE_BAND = 0.05  # how far off a side's edge may lie, as a share of the side's length
SIDE_FAR = 0.12  # the same where a shadow has been taken for the side
SIDE_STRIP = (3.0, 9.0)  # pixels of the coarse picture to either side of a side, for its colours there
SIDE_SMOOTH = 2.0  # pixels: a side is long, so it can be looked at less sharply than a rim
BENT = 0.15  # mm: sides bent by more than this are told
TOO_BLURRED = (0.2, 2.0)  # mm and pixels, standard deviation of an edge's blur: more than both is refused
FLAT = 0.006  # shares by which one end of a face looks larger than the other: less is seen straight on
FLAT_NOTE, FLAT_MOST = 0.005, 0.02  # the shape of a face may differ from the size given by this much, straight on
TILTED_NOTE, TILTED_MOST = 0.012, 0.03  # the same in a tilted photo, or by its holes
SURE = 0.006  # standard deviation of an outline's shape, as a share: where it is more, the holes are asked too
OFF_AXIS = 0.02  # of a photo's longer side: how far the camera's axis may stand from its middle
FEWEST, ALIKE = 3, 0.04  # holes that must be oval alike, and how far one may differ from another, to tell a shape
TAG_OFF = 0.01  # dots to the inch of the file may differ from what the size gives by this much
NO_TAG = (72, 96)  # what programs write that know of no dots to the inch (common practice)

SMALLEST, LARGEST = 1.8, 60.0  # mm across: holes smaller are pilots and marks
EDGE = 0.6  # mm of metal round a hole: at a rounded corner the ground beyond it is no hole
FINE = 10.0  # pixels a mm, for finding holes; they are measured in the picture itself
LEVELS = 28  # thresholds at which holes may show
KEPT = 400  # candidates that are measured, the best ones
FILL = (0.66, 1.12)  # area of a candidate against that of an ellipse in its box
STRETCH = 1.6  # longest against shortest side of its box
RAYS = (60, 360)
SMOOTH = 1.0  # pixels, standard deviation of the smoothing at an edge
STEP = 0.25  # pixels between samples along a ray
SUPPORT = 0.62  # of the rays must meet the rim
GAP = 110.0  # degrees of rim that may be lost in one piece
WIDE = 14.0  # pixels to either side of a rim, for telling how soft it is
HOLE_STEP = 0.12  # (light − dark) / (light + dark) across a rim, at least
ROUGH = (0.10, 0.02)  # a rim that strays from round by more than this, in mm and as a share of d, is no hole
SOFT = 2.6  # times as blurred as the sharpest rim: no rim but a spot or shadow
TILTED = 0.045  # mm that holes of a tilted photo stray beyond what its sides tell (the study: worst 0.094)
BIAS = 0.05  # pixels: what blur, light and sampling may shift an edge by, told as uncertainty
