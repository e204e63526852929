"""The batch table in and out: CSV files and DataFrames, by one set of rules."""

from jarcast.interchange.csv_in import Table, read_csv
from jarcast.interchange.csv_out import write_csv
from jarcast.interchange.frame import batches_from_frame, frame_from_batches, read_batches

__all__ = [
    "Table",
    "batches_from_frame",
    "frame_from_batches",
    "read_batches",
    "read_csv",
    "write_csv",
]
