"""A person's drawing (segments with sizes) becomes a route."""

from router.infer.infer import Inferred, infer_route
from router.infer.remarks import Remark

__all__ = ["Inferred", "Remark", "infer_route"]
