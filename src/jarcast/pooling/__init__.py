"""Better starting beliefs from many households: reduce each, combine them, write the beliefs."""

from jarcast.pooling.combine import Pooled, combine
from jarcast.pooling.reduce import Reduced, reduce_household
from jarcast.pooling.write import pooled_document, write_beliefs

__all__ = ["Pooled", "Reduced", "combine", "pooled_document", "reduce_household", "write_beliefs"]
