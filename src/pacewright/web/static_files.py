"""Files of `web/static`: compressed once, and kept by browsers as long as their content is the same."""

from __future__ import annotations

import gzip
import os
from functools import lru_cache

from starlette.datastructures import Headers
from starlette.responses import Response
from starlette.staticfiles import NotModifiedResponse, StaticFiles
from starlette.types import Scope

COMPRESSIBLE = (".js", ".css", ".html", ".json", ".svg", ".txt", ".webmanifest")
FOR_EVER = "public, max-age=31536000, immutable"


class CompressedStatic(StaticFiles):
    """As `StaticFiles`; text goes out compressed, and an address that names its content (``?v=``) is kept for
    ever."""

    def file_response(
        self,
        full_path: str | os.PathLike[str],
        stat_result: os.stat_result,
        scope: Scope,
        status_code: int = 200,
    ) -> Response:
        """The answer for a file."""
        response = super().file_response(full_path, stat_result, scope, status_code)
        named_by_content = scope.get("query_string", b"").startswith(b"v=")
        response.headers["cache-control"] = FOR_EVER if named_by_content else "no-cache"
        path = os.fspath(full_path)
        if isinstance(response, NotModifiedResponse) or not path.endswith(COMPRESSIBLE):
            return response
        headers = dict(response.headers) | {"vary": "Accept-Encoding"}
        if "gzip" not in Headers(scope=scope).get("accept-encoding", ""):
            response.headers["vary"] = "Accept-Encoding"
            return response
        packed = _packed(path, stat_result.st_mtime_ns)
        headers |= {"content-encoding": "gzip", "content-length": str(len(packed))}
        return Response(packed, status_code, headers)


@lru_cache(maxsize=256)
def _packed(path: str, _changed: int) -> bytes:
    with open(path, "rb") as stream:
        return gzip.compress(stream.read(), 9, mtime=0)
