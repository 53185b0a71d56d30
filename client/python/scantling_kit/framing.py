"""Frames on the pipes between the kit and its helper process.

A frame is a header in JSON with numbers in bulk behind it, so that a track of matrices costs no text:

    8 bytes   length of the JSON, length of the bulk; both unsigned, 4 bytes, little-endian
    JSON      UTF-8, one object
    bulk      doubles, little-endian, one run after another

Where the JSON says ``{"$doubles": [first, count]}`` that run of the bulk stands. In Python such a run is an
``array('d')``; everything else is plain dicts, lists, strings, numbers, booleans and None. Both sides say
``VERSION`` in their first frame and part where it differs.

Standard library only: both the host's interpreter and the helper's load this file.
"""

import json
import struct
import sys
from array import array
from typing import Any, BinaryIO, Dict, List, Optional

VERSION = 1
"""Version of what is said over the pipes. Kit and helper of one release agree; a mixture is refused."""

_LENGTHS = struct.Struct("<II")
_BULK = "$doubles"

_MOST_JSON_BYTES = 1 << 30  # a length beyond this is no frame of ours but noise on the pipe


class FramingError(Exception):
    """What came over the pipe is no frame, or ends inside one."""


def encode(header: Dict[str, Any]) -> bytes:
    """The bytes of a frame. Every ``array('d')`` in the header goes into the bulk.

    O(size). TypeError where the header holds anything that is neither JSON nor such an array.
    """
    runs: List[bytes] = []
    count = 0

    def put_aside(value: Any) -> Any:
        nonlocal count
        if not isinstance(value, array) or value.typecode != "d":
            raise TypeError(f"cannot send a {type(value).__name__}")
        first, count = count, count + len(value)
        runs.append(_little_endian(value).tobytes())
        return {_BULK: [first, len(value)]}

    text = json.dumps(header, default=put_aside, separators=(",", ":")).encode("utf-8")
    bulk = b"".join(runs)
    return b"".join((_LENGTHS.pack(len(text), len(bulk)), text, bulk))


def write(stream: BinaryIO, header: Dict[str, Any]) -> None:
    """Writes one frame and flushes. OSError or ValueError where the pipe is closed."""
    stream.write(encode(header))
    stream.flush()


def read(stream: BinaryIO) -> Optional[Dict[str, Any]]:
    """The next frame's header, runs in their places; None where the stream ended between two frames.

    Blocks until a whole frame is there. FramingError where the stream ends inside a frame or holds something
    else.
    """
    lengths = stream.read(_LENGTHS.size)
    if not lengths:
        return None
    if len(lengths) < _LENGTHS.size:
        raise FramingError("the stream ended inside a frame")
    text_bytes, bulk_bytes = _LENGTHS.unpack(lengths)
    if text_bytes > _MOST_JSON_BYTES or bulk_bytes % 8 != 0:
        raise FramingError(f"got a frame of {text_bytes} + {bulk_bytes} bytes, want one of this protocol")
    text = stream.read(text_bytes)
    bulk = stream.read(bulk_bytes)
    if len(text) < text_bytes or len(bulk) < bulk_bytes:
        raise FramingError("the stream ended inside a frame")
    doubles = _little_endian(array("d", bulk))

    def put_back(value: Dict[str, Any]) -> Any:
        if len(value) == 1 and _BULK in value:
            first, count = value[_BULK]
            return doubles[first:first + count]
        return value

    try:
        header = json.loads(text.decode("utf-8"), object_hook=put_back)
    except (UnicodeDecodeError, ValueError) as error:
        raise FramingError(f"got a frame that is no JSON: {error}") from error
    if not isinstance(header, dict):
        raise FramingError(f"got a frame that is a {type(header).__name__}, want an object")
    return header


def _little_endian(values: "array[float]") -> "array[float]":
    """The same numbers in the pipe's byte order, or back from it."""
    if sys.byteorder == "little":
        return values
    swapped = array("d", values)
    swapped.byteswap()
    return swapped
