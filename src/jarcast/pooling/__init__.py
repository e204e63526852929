"""Better starting beliefs from many households: reduce each, combine them, write the beliefs."""
