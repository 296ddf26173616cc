"""Each reader against its samples, the samples of all others, and damaged files.

A new shape also gets a row in `FORMS` of `tests/readers/damage_forms.py` (dumps: `test_damage_dump.py`). Each byte of
its heading and rows is then changed, taken out and added to, files are cut anywhere, and many rows are drawn and
damaged; what is read must be what a slow reading of the same bytes finds (`oracle.py`, `dump_oracle.py`), or an error
with its line. A damaged value that makes another valid file cannot be told, and is read as it stands. What is told
from what: `recognise/first_row.py` a damaged row from names and a torn heading from prose, `headings/titles.py` units
from names, `traces/even_times.py` a damaged digit from rounding.

`BENCH_FORMS` are layouts that the plan of columns reads: their rows alone are damaged. `test_bench_layouts.py` has a
made-up file of each layout, `test_bench_traps.py` of what was once read wrongly; the rows that `even_times.py` finds
lost among rounded times are among them.
"""
