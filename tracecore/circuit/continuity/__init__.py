"""Two backplanes read with an ohm meter: what is joined on one and not on the other, and what to read next.

This room compares ohm readings of two backplanes: nets by union-find (`nets.py`), pair by pair and net by net
(`comparison.py`), a path halved (`path.py`), a numbered plan (`plan.py`). What the good side reads open too is no
break. `causes/measured.py` puts a cause whose net has a measured fault first, and `app/report/cause_readings.py` words
it. `Session.answer` keeps the comparison as it was made. `learnt_pins.py` says what a pin list may learn.
"""
