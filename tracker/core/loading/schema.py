"""The JSON Schema of protocol files, apart from loading them: few need it, and it is slow to import."""

from __future__ import annotations

from typing import Any

from pydantic.json_schema import GenerateJsonSchema

from tracker.core.protocol import Protocol


class _TomlSchema(GenerateJsonSchema):
    """Leaves out what TOML cannot say (null) and titles that only repeat the key."""

    def field_title_should_be_set(self, _schema: Any) -> bool:
        """Whether a key gets a title of its own: never."""
        return False

    def nullable_schema(self, schema: Any) -> dict[str, Any]:
        """A key that may be left out has the schema it has when given."""
        return self.generate_inner(schema["schema"])

    def default_schema(self, schema: Any) -> dict[str, Any]:
        """A default of nothing is no default."""
        absent = schema.get("default", ...) is None
        return self.generate_inner(schema["schema"]) if absent else super().default_schema(schema)


def protocol_schema() -> dict[str, Any]:
    """The JSON Schema (draft 2020-12) of a protocol file once read from TOML.

    It knows the shape of the file, not the cross-checks.
    """
    schema = Protocol.model_json_schema(schema_generator=_TomlSchema)
    schema["properties"]["sources"]["additionalProperties"] = False
    return {"$schema": GenerateJsonSchema.schema_dialect, **schema, "title": "Clockhour protocol file"}
