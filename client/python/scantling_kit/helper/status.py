"""How calls end, as plain values: code, text, and the details of the open error model."""

from typing import Any, Dict, Iterable, Tuple

from .messages import Messages
from .plain import to_plain

_DETAILS_KEY = "grpc-status-details-bin"
_CODES = ("OK", "CANCELLED", "UNKNOWN", "INVALID_ARGUMENT", "DEADLINE_EXCEEDED", "NOT_FOUND",
          "ALREADY_EXISTS", "PERMISSION_DENIED", "RESOURCE_EXHAUSTED", "FAILED_PRECONDITION", "ABORTED",
          "OUT_OF_RANGE", "UNIMPLEMENTED", "INTERNAL", "UNAVAILABLE", "DATA_LOSS", "UNAUTHENTICATED")


def plain_status(messages: Messages, status: Any) -> Dict[str, Any]:
    """A google.rpc.Status: code by name, text, reason, metadata, faults, preconditions."""
    known = 0 <= status.code < len(_CODES)
    code = _CODES[status.code] if known else str(status.code)
    plain: Dict[str, Any] = {"code": code, "text": status.message}
    plain.update(_details(messages, status))
    return plain


def plain_end(messages: Messages, code: str, text: str, trailer: Iterable[Tuple[str, Any]]) -> Dict[str, Any]:
    """A call's end: its code and text, with what its trailer says."""
    plain: Dict[str, Any] = {"code": code, "text": text}
    for key, value in trailer or ():
        if key == _DETAILS_KEY:
            status = messages["google.rpc.Status"]()
            status.ParseFromString(value)
            plain.update(_details(messages, status))
    return plain


def _details(messages: Messages, status: Any) -> Dict[str, Any]:
    plain: Dict[str, Any] = {}
    for detail in status.details:
        name = detail.type_url.rsplit("/", 1)[-1]
        if name not in ("google.rpc.ErrorInfo", "google.rpc.BadRequest", "google.rpc.PreconditionFailure"):
            continue
        message = messages[name]()
        message.ParseFromString(detail.value)
        fields = to_plain(message)
        if name == "google.rpc.ErrorInfo":
            plain["reason"] = fields.get("reason", "")
            plain["metadata"] = fields.get("metadata", {})
        elif name == "google.rpc.BadRequest":
            plain["faults"] = fields.get("field_violations", [])
        else:
            plain["preconditions"] = fields.get("violations", [])
    return plain
