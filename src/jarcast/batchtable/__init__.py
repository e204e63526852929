"""The batch table in and out: CSV files and DataFrames, by one set of rules."""

from jarcast.batchtable.csv_in import Table, read_csv
from jarcast.batchtable.csv_out import write_csv
from jarcast.batchtable.frame import batches_from_frame, frame_from_batches, read_batches

__all__ = [
    "Table",
    "batches_from_frame",
    "frame_from_batches",
    "read_batches",
    "read_csv",
    "write_csv",
]
