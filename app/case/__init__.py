"""The case: what a team keeps of a fault from symptom to proof, in one file. Nothing here knows Qt.

One SQLite file. `values.py` and `record.py` say what a case is (frozen values), `changes.py` and `circuit_changes.py`
each change as a value whose `applied` makes the case after it. `items.py` turns a case into rows of JSON; a change is
kept as the rows that differ, before and after, in one transaction (`store.py`), so that undo is the rows put back.
`database.py` opens and holds the file: one program at a time, `synchronous=FULL`, errors as one sentence. Bytes
(captures, photos) are stored by their SHA-256 in compressed parts; half a blob counts as none. `shelf.py` reads a
capture when it is looked at, and one outside the case only where a person agreed to its path (`linked_files.py`). A
case may come from anybody: only the tables of `schema.py` may be in it, `codec.py` and `item_checks.py` hold every
value against its type, `app/report/kept_record.py` the record of a comparison. `rescue.py` reads a torn file row by
row, and behind a cut page by page (`pages.py`).

To change the tables add a step to `schema.STEPS`, never edit one, and save a sample of the new version in
`tests/case/saved/`. A new field of a value needs no step: it takes its default in older files.
`tests/case/kill_loop.py` kills a writer at 200 random moments.
"""
