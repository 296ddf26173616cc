"""TTL parts: what each does, and whether a chip under a clip obeys its own inputs.

This room judges a chip by its own inputs. Legs, equations and delays are data with their sources (`parts.toml`,
`delays.csv`); what has a memory is a `Store` of `registers.py`, followed by `state_run.py` from unknown. `judging.py`
says what counts as wrong: a departure must outlast the settling time and two samples, since a pulse between two
samples leaves such a mark, or be the rule wherever the output has to move. `explanations.py` tries single faults;
what does not make every judged state right is not told. `compare/chips.py` does it for both sides of a comparison,
`clip_pair.py` sets both boards beside each other pin by pin. A new part is an entry of `parts.toml`, a `Store` if it
has a memory, and its function in `tests/circuit/parts/reference.py`.
"""
