"""What a batch is: stages, jars, names; knows no files and learns nothing."""
