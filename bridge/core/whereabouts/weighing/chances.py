"""The chances by which hypotheses are weighed, each with its name.

Rule: a chance says how often something happens on a layout, never what would suit a test. They are rounded figures from
virtual evenings worked by crews, on seeds on which nothing is judged; what can be learned in a session is learned
(`quality.py`).
"""

from __future__ import annotations

from math import log

# --- readers
GHOST = log(2.5e-5)  # a tag is said that is not there: one read in a thousand, of any of some forty tags
ASTRAY = GHOST + log(0.5)  # it is there, by a hand or because all of what is believed of it is wrong: the next read tells
ECHO = log(0.3)  # a tag is said that another reader has said just now: from that one's field
ECHO_S = 0.1
TOUCHES = 0.02  # a vehicle that is read has come to the reader and goes back, as where a train stops under it
ENGINE_TOUCHES = 0.35  # the same of an engine that comes to the mouth of a road, as where it has pushed something in there
TOUCHES_LIMIT = 0.04  # the same of what comes from the station to the end of a section, as where it draws out to shunt
COMES_AGAIN = log(0.1)  # it has come to the reader and gone back, and comes again so soon: who comes twice has gone past
SOON_S = 8.0
AGAIN_S = 1.5  # the same tag again so soon is the same passing: common practice, no source
AGAIN_BOTH_S = 2.0  # the same of a vehicle with two tags

# --- movements that nothing has told of
BY_ITSELF = log(0.003)  # a vehicle moves without an engine by it: a hand, or the engine is believed elsewhere
UNSEEN = log(0.4)  # a boundary was passed at which nothing would tell
OUT_OF_ORDER = log(0.02)  # a vehicle comes first that was believed behind others
OUT_OF_TRAIN_ORDER = log(0.002)  # the same where they stand in a throat or run in a section
OUT_OF_READ_ORDER = log(0.0005)  # the same where one of those others was read going in behind it: only a hand changes that
LIFTED = log(0.02)  # a vehicle was taken into a train, and is not booked to be
LIFTED_AS_BOOKED = log(0.5)
DRAWN_OUT = log(0.1)  # the next one behind a vehicle was drawn out with it
DRAWN_OUT_AS_BOOKED = log(0.5)  # and is booked to where that one is pushed
BEYOND = log(0.7)  # the engine of what moves is on the next stretch but one

# --- track detectors
FALSELY_OCCUPIED = log(0.01)
FALSELY_CLEAR = log(0.01)
AGAINST_CLEAR = log(0.02)  # something that works detectors stands where one says clear
THROAT_FOULED = log(0.15)  # a throat is occupied by what hangs out of a road, or for a moment
SETS_OFF = log(0.3)  # a train that stood begins to move just then
FOR_NOTHING = log(0.1)  # an engine goes first on to a siding on which nothing stands
NOT_LEADING = log(0.3)  # the first of what moves is not its engine
ASLEEP = log(0.2)  # a train moves that is not due to be worked
AGAINST_POINTS = log(0.01)
PARTED = log(0.1)  # what was in a throat has gone two ways
GOES_ON = log(2.5)  # what went by a boundary a moment ago goes on by it
LATELY_S = 15.0
TELLS_OF_IT = log(3.0)  # a stretch that says occupied, and on which nothing is believed, is where something has gone

# --- the plan: a weak hint
BOOKED_SECTION, OTHER_SECTION, UNBOOKED_SECTION = log(0.9), log(0.1), log(0.5)  # unbooked: it is booked nowhere
WITHOUT_AUTHORITY = log(0.5)  # a train goes into a section that it has not been given, where another may have been
NOT_BOUND = log(0.5)  # an engine leaves a road by an end, and holds no authority for what is there
THE_OTHER_WAY = log(0.3)  # it leaves by the end that leads away from where it is booked
TURNS_BACK = log(0.15)  # a train goes back over a section end at which it was a moment ago
NOT_BOOKED_OUT = log(0.2)  # it goes out at the end of a section that it is not booked into: it draws out to shunt
PROPELLED = log(0.3)  # it does so pushed by its engine
ANOTHERS = log(0.05)  # an engine moves what goes with another
