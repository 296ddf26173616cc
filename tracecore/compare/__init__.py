"""One good and one suspect capture side by side: transitions, divergence, fault modes, pair check-up.

`clock_quality` lays the active edges on an even grid (`measure/`), `compare_clocks` compares both sides' figures
before any cycle is counted, and `clock_phase` asks whether all other signals moved against it together. What is wrong
with the suspect's clock is a `ClockFault`; `with_clock` puts it before the other causes. Counting takes
`ClockPair.edges_ps`: real edges, and the suspect's moved where its clock is late or early. Where another lead ticks
in the clock's place nothing is said against the clock. `unaligned.py` says what needs no line-up.
Pulses too short for the samples accuse nobody (`unseen_pulses.py`). `short_pulses.py` tells which cast doubt, by
where in the cycle they are (`pulse_places.py`) and how many draws they are (`pulse_draws.py`).
`tests/clock_planter.py` plants sixteen kinds of clock fault at the pin, in the machine or in volts.
"""
