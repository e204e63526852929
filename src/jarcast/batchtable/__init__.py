"""The batch table in and out: CSV files and DataFrames, by one set of rules."""

from jarcast.batchtable.csv_in import Table, read_csv
from jarcast.batchtable.csv_out import write_csv
from jarcast.batchtable.frame import (
    as_frame,
    batches_from_frame,
    batches_from_table,
    frame_from_batches,
    read_batches,
    shown,
)

__all__ = [
    "Table",
    "as_frame",
    "batches_from_frame",
    "batches_from_table",
    "frame_from_batches",
    "read_batches",
    "read_csv",
    "shown",
    "write_csv",
]
