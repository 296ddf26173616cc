"""One side of a comparison of the captures that were read: parts of a run joined on one time (``join``), and names that
both sides and their sheets share (``names``)."""
