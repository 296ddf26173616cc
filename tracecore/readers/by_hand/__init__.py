"""Files read by what a person said of their columns.

What no fast reader takes is read by the plan of columns (`by_hand/`), which also finds it: dates, a unit in each
time, numbers of samples, words for levels, decoded text, counts (`recognise/cell_forms.py`). `source.py` recodes
UTF-16 and bare carriage returns, and takes NUL bytes and rows of delimiters off the end. `sample_period.py` finds the
period although rows of begin and trigger stand off it. `headings/heading_facts.py` is the one parser of sample rates.
`tests/readers/test_bench_layouts.py` has a made-up file of each. `join.py` puts parts of one run on one time,
`side_names.py` matches names.

Where a person says that a column is something else than it looks (`ColumnChoice`), no reader is asked:
`by_hand/chosen_columns.py` reads any mixture of columns by that plan, through pandas, several times slower than the
readers that know their layout. Factors of volts, and columns left out of a file that can be read, leave it to its
reader.
"""
