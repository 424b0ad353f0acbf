"""How large an upload may be, in megabytes; the server takes nothing above the largest."""

# A phone's largest pictures are about 25 MB.
PHOTO_MB = 60
PARTS_MB = 5
# A packed lot of some 50 boards with their photos; more is moved as files.
LOT_MB = 1000
