"""How the search divides its time, and how far it strays: its numbers, each with its reason."""

# Of the prices that have given the best bound so far, the share that a round's prices keep, so that
# they do not jump to and fro; every third round takes the master's own prices.
SMOOTHING, PURE_EVERY = 0.6, 3
# Shaking of prices in ruin and recreate, as a share of the price: tuned on jobs of seeds 100-104.
SHAKE = 0.25
# A layout may grow worse by this share of its value, and of a board's mean one; seldom by so much.
WORSE_IN_ALL = 0.002
WORSE_A_BOARD = 0.08
# One board alone: each part is a large share of it.
WORSE_ALONE = 0.05
# How often one, two, three, four boards are laid out anew together.
RUINED = (0.1, 0.4, 0.35, 0.15)
# So often only some sections of a board are laid out anew, where one board is.
PARTLY = 0.7
# So often a board is looked at closely then: few copies are left, and they count.
CLOSE_RUINS = 0.5
RUINS_BETWEEN_CHOICES = 40
# After so many of these in a row that found nothing better finer rows are tried.
IN_VAIN = 2
ROUNDS_BETWEEN_CHOICES = 6
# Rounds of pricing before the first ruin and recreate.
FIRST_ROUNDS = 12
# A round prices every board, so that with many boards fewer rounds leave time for the rest: from
# so many boards on, these hold instead.
MANY_BOARDS = 20
MANY_ROUNDS_BETWEEN_CHOICES, MANY_FIRST_ROUNDS = 3, 6
RUINS_A_BOARD = 2
MIP_NODES = 400
# A choice of patterns ends after so many nodes, or so long where the search goes by time.
MIP_SECONDS = 2.0
ALMOST = 1 - 1e-12
# Boards that prices bound to less than this share of what is wanted cannot hold it: a board's best
# pattern at some prices is found by and large only, so that the bound may be a little too low.
SHORT = 0.99
# Narrower parts in a strip, which prices know nothing of, may make up for some more.
SHORT_OF_WIDER = 0.97
# A former layout, its gaps filled, is where the search begins unless it is worth less than this
# share of a first layout made anew.
STARTS_ANEW = 0.95
# What stays where it lay counts so much of its value more: a part moves only for a real gain.
STAYS = 0.03
# Of a part that moves so much counts as wood where a set of boards is sought that opens less.
MOVED_WOOD = 0.1
# So often each of its boards has a few sections laid out anew to put in what is missing, ...
PARTLY_TRIES = 3
# ... and so many pairs of its boards are laid out anew.
MOST_PAIRS = 20
# Choices this near to the best are tried with narrower parts in the gaps of their strips, too.
WORTH_WIDENING = 0.97
