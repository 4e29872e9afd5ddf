"""The batch's record: what went in, what was done, measured, found, tasted and corrected.

`entries` says what an entry is and how it is stored. One module each owns what is entered:
`recipe`, `sums`, `steps`, `series`, `looks`, `photos`, `finish`; `edits` owns corrections. `whole`
reads all of one batch, `archive` and `spreadsheets` write everything out, `restoring` takes it in
again, `loggers` reads the CSV files of scales and thermometers.
"""
