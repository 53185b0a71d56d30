"""Plain values (what a frame can carry) to protobuf messages, and back.

Not protobuf's own JSON: that writes 64-bit numbers as text, takes a hundred microseconds a decision, and
knows no runs of doubles. Enums go by name. Fields at their default are left out on the way back.
"""

import json
from array import array
from typing import Any, Dict

from google.protobuf.descriptor import FieldDescriptor
from google.protobuf.message import Message

_MESSAGE = FieldDescriptor.TYPE_MESSAGE
_ENUM = FieldDescriptor.TYPE_ENUM
_BYTES = FieldDescriptor.TYPE_BYTES
_REPEATED = FieldDescriptor.LABEL_REPEATED


def fill(message: Message, plain: Dict[str, Any], where: str = "") -> None:
    """Sets the message's fields from plain values. ValueError names the field that does not fit."""
    fields = message.DESCRIPTOR.fields_by_name
    for name, value in plain.items():
        field = fields.get(name)
        at = f"{where}.{name}" if where else name
        if field is None:
            raise ValueError(f"{at}: got a field that {message.DESCRIPTOR.full_name} does not have")
        try:
            _set(message, field, value, at)
        except (TypeError, AttributeError) as error:
            raise ValueError(f"{at}: got {type(value).__name__} ({error}), want {_kind(field)}") from error


def _set(message: Message, field: FieldDescriptor, value: Any, at: str) -> None:
    if field.label == _REPEATED:
        target = getattr(message, field.name)
        if field.type == _MESSAGE:
            for index, item in enumerate(value):
                fill(target.add(), item, f"{at}[{index}]")
        elif isinstance(value, array):
            target.extend(value.tolist())
        else:
            target.extend(_enum(field, item) if field.type == _ENUM else item for item in value)
    elif field.type == _MESSAGE:
        target = getattr(message, field.name)
        target.SetInParent()
        fill(target, value, at)
    else:
        setattr(message, field.name, _enum(field, value) if field.type == _ENUM else value)


def _enum(field: FieldDescriptor, value: Any) -> Any:
    if not isinstance(value, str):
        return value
    known = field.enum_type.values_by_name.get(value)
    if known is None:
        raise TypeError(f"'{value}' is none of {', '.join(sorted(field.enum_type.values_by_name))}")
    return known.number


def _kind(field: FieldDescriptor) -> str:
    one = field.message_type.full_name if field.type == _MESSAGE else (
        field.enum_type.full_name if field.type == _ENUM else "a plain value")
    return f"a list of {one}" if field.label == _REPEATED else one


def to_plain(message: Message) -> Dict[str, Any]:
    """The message's set fields as plain values."""
    plain: Dict[str, Any] = {}
    for field, value in message.ListFields():
        plain[field.name] = _plain_value(field, value)
    return plain


def folded(decision: Dict[str, Any]) -> Dict[str, str]:
    """A decision as its id and its JSON: a host that keeps thousands of them keeps texts, which its garbage
    collector does not look into."""
    return {"object_id": decision.get("object_id", ""), "json": json.dumps(decision, separators=(",", ":"))}


def _plain_value(field: FieldDescriptor, value: Any) -> Any:
    if field.type == _MESSAGE:
        if field.label != _REPEATED:
            return to_plain(value)
        if field.message_type.GetOptions().map_entry:
            return dict(value)
        return [to_plain(item) for item in value]
    if field.type == _ENUM:
        names = field.enum_type.values_by_number
        if field.label == _REPEATED:
            return [names[item].name if item in names else item for item in value]
        return names[value].name if value in names else value
    if field.type == _BYTES:
        return value.hex() if field.label != _REPEATED else [item.hex() for item in value]
    return list(value) if field.label == _REPEATED else value
