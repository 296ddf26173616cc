"""Which cycle of the suspect is which cycle of the known-good side: offset, rivals, slips, drift.

`find_lineup` (`lineup.py`, answered by `answer.py`) judges offsets (`offset.py`, of `candidates.py`) by how much of
both captures they explain (`explained.py`, weighed by `worth.py`), decides between them (`rivals.py`) and follows
both captures from where the best one fits (`follower.py`, by costs and cheapest ways from `alignment.py` and places
from `rejoin.py`; `slips.py` settles what was found). Its runs and slips tile both captures. A slip is inserted,
missing, diverged, or unsure: cycles beside a gap of which it is not settled which is which are not compared. As many
cycles on both sides through which some signals go on in step stay paired: a fault (`in_step.py`). `unseen.py` tells
inserted cycles from another way taken by states that the good side never shows. `shown_elsewhere.py` looks for cycles
without partner at other places of the other side, as an interrupt's routine is. `TimeMap` carries times over by
matched edges, each averaged over as many cycles as sampling alone explains (`averaged_edges.py`); a time never leaves
its cycle. `drift.py` has the one ratio of the clocks, slips, pauses and lost edges taken out, for the page, the
report and the comparison. `Lineup.coverage` says where each cycle of both captures went, and how long each goes on
without active edges.

`Lineup.sure` is the one word (certain, likely, doubtful) that `confidence` allows, `Lineup.may_clear` whether a
comparison over it may say "agrees". How often each word is right is measured in tests/benchmarks/README.md.

`Lineup.parts_at` is the good cycle from which on the two do different things for the first time. What first differs
behind it may be a consequence: `causes/ranking.py` puts it behind all else, unless the part breaks its own table, and
says so; so should whoever ranks first divergences.

Slips alone are no divergence of a signal. `SlipCount.tells` says when they count: where other known-good captures
were compared and none of them slips, or where the two do different things for a stretch. Whatever others show, a
diverged stretch, or more than four unsure cycles of both sides, forbids "agrees"; so do cycles of one side, more than
four in a row that do not wait, that the other side shows nowhere.
"""
