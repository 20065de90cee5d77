"""Column types of the migrations. They are frozen here: a migration must not change with the models."""

from __future__ import annotations

import sqlalchemy as sa
from sqlalchemy.dialects import postgresql

TIME = sa.DateTime(timezone=True)
JSON_TYPE = sa.JSON(none_as_null=True).with_variant(postgresql.JSONB(none_as_null=True), "postgresql")
