"""A .gltf or .glb file as Python values, checked as far as this package reads it. Standard library only.

Source: The Khronos Group, glTF 2.0 Specification, 2021, sections 3.6 (accessors), 4.4 (GLB).
"""

import base64
import json
import math
import os
import struct
from typing import Any, Dict, List, Optional, Sequence, Tuple
from urllib.parse import unquote

_GLB_MAGIC = 0x46546C67
_CHUNK_JSON, _CHUNK_BIN = 0x4E4F534A, 0x004E4942
_COMPONENTS = {
    5120: ("b", 127.0), 5121: ("B", 255.0), 5122: ("h", 32767.0), 5123: ("H", 65535.0), 5125: ("I", 1.0),
    5126: ("f", 1.0)
}
_COUNTS = {"SCALAR": 1, "VEC2": 2, "VEC3": 3, "VEC4": 4}


class GltfError(ValueError):
    """The file is not what glTF 2.0 says: its place in the file, what was got, what was wanted."""


class GltfFile:
    """The document and numbers out of its buffers. Buffers are read when first needed, from the file's own
    folder."""

    def __init__(self, path: str) -> None:
        """Reads the file. OSError; GltfError where it is none."""
        with open(path, "rb") as stream:
            data = stream.read()
        text, self._bin = _split(path, data)
        try:
            document = json.loads(text.decode("utf-8"))
        except (UnicodeDecodeError, ValueError) as error:
            raise GltfError(f"{path}: got no JSON ({error}), want glTF 2.0") from error
        if not isinstance(document, dict):
            raise GltfError(f"{path}: got a {type(document).__name__}, want an object")
        self.path = path
        self.document: Dict[str, Any] = document
        self._buffers: Dict[int, bytes] = {}
        version = document.get("asset", {}).get("version", "")
        if not str(version).startswith("2."):
            raise GltfError(f"{path}: asset.version: got {version!r}, want 2.x")

    def items(self, name: str) -> List[Dict[str, Any]]:
        """A list of the document; empty where it has none. GltfError where it is no list of objects."""
        found = self.document.get(name, [])
        if not isinstance(found, list) or not all(isinstance(item, dict) for item in found):
            raise GltfError(f"{self.path}: {name}: got something else, want a list of objects")
        return found

    def item(self, name: str, index: Any, where: str) -> Dict[str, Any]:
        """One of a list, by an index that stands at `where`. GltfError where it points past the end."""
        found = self.items(name)
        if not isinstance(index, int) or isinstance(index, bool) or not 0 <= index < len(found):
            raise GltfError(
                f"{self.path}: {where}: got {index!r}, want an index below {len(found)} into {name}")
        return found[index]

    def numbers(self, accessor: int, components: int, where: str) -> List[Tuple[float, ...]]:
        """An accessor's elements. Normalized integers become -1..1 or 0..1 (section 3.11). GltfError where it
        is sparse, has no view, another type, or leaves its buffer."""
        from_ = self.item("accessors", accessor, where)
        place = f"{self.path}: accessors[{accessor}]"
        if "sparse" in from_ or "bufferView" not in from_:
            raise GltfError(f"{place}: got a sparse one or one without a view, want a plain one")
        if _COUNTS.get(from_.get("type", "")) != components or from_.get("componentType") not in _COMPONENTS:
            raise GltfError(
                f"{place}: got {from_.get('type')} of {from_.get('componentType')}, want {components} numbers"
            )
        code, most = _COMPONENTS[from_["componentType"]]
        scale = most if from_.get("normalized", False) else 1.0
        view = self.item("bufferViews", from_["bufferView"], f"accessors[{accessor}].bufferView")
        element = struct.Struct(f"<{components}{code}")
        stride = view.get("byteStride", element.size)
        data = self._buffer(view.get("buffer"), place)
        first = view.get("byteOffset", 0) + from_.get("byteOffset", 0)
        end = first + (from_.get("count", 0) - 1) * stride + element.size
        view_end = view.get("byteOffset", 0) + view.get("byteLength", 0)
        if from_.get("count", 0) < 1 or first < 0 or stride < element.size or end > min(view_end, len(data)):
            raise GltfError(
                f"{place}: got an end at byte {end}, want at most {min(view_end, len(data))}, and an element")
        rows = [element.unpack_from(data, first + index * stride) for index in range(from_["count"])]
        if scale != 1.0:
            rows = [tuple(max(-1.0, number / scale) for number in row) for row in rows]
        if not all(math.isfinite(number) for row in rows for number in row):
            raise GltfError(f"{place}: got a number that is not finite, want all finite")
        return rows

    def bounds(self, accessor: int, where: str) -> Tuple[Sequence[float], Sequence[float]]:
        """The box of a POSITION accessor: its min and max where it has both, else from its numbers."""
        from_ = self.item("accessors", accessor, where)
        least, most = from_.get("min"), from_.get("max")
        if _three(least) and _three(most):
            scale = 1.0
            if from_.get("normalized", False) and from_.get("componentType") in _COMPONENTS:
                scale = _COMPONENTS[from_["componentType"]][1]
            least, most = [value / scale for value in least], [value / scale for value in most]
        else:
            rows = self.numbers(accessor, 3, where)
            least = [min(row[axis] for row in rows) for axis in range(3)]
            most = [max(row[axis] for row in rows) for axis in range(3)]
        if any(low > high for low, high in zip(least, most)):
            raise GltfError(
                f"{self.path}: accessors[{accessor}]: got min {least} above max {most}, want not above")
        return least, most

    def _buffer(self, index: Any, where: str) -> bytes:
        buffer = self.item("buffers", index, where)
        found = self._buffers.get(index)
        if found is None:
            found = self._load(buffer, index)
            self._buffers[index] = found
        return found

    def _load(self, buffer: Dict[str, Any], index: int) -> bytes:
        uri: Optional[str] = buffer.get("uri")
        place = f"{self.path}: buffers[{index}]"
        if uri is None:
            if index != 0 or self._bin is None:
                raise GltfError(f"{place}: got no source, want a uri or the BIN chunk")
            return self._bin
        if uri.startswith("data:"):
            try:
                return base64.b64decode(uri.partition(",")[2], validate=True)
            except ValueError as error:
                raise GltfError(f"{place}: got a data uri that is no base64: {error}") from error
        folder = os.path.realpath(os.path.dirname(self.path) or ".")
        path = os.path.realpath(os.path.join(folder, unquote(uri)))
        if os.path.commonpath([folder, path]) != folder:
            raise GltfError(f"{place}: got {uri!r} outside the file's folder, want one in it or below")
        with open(path, "rb") as stream:
            return stream.read()


def _three(values: Any) -> bool:
    return (isinstance(values, list) and len(values) == 3 and
            all(isinstance(value, (int, float)) and math.isfinite(value) for value in values))


def _split(path: str, data: bytes) -> Tuple[bytes, Optional[bytes]]:
    """JSON and BIN of a GLB; anything else is taken as JSON."""
    if len(data) < 12 or struct.unpack_from("<I", data)[0] != _GLB_MAGIC:
        return data, None
    _, version, length = struct.unpack_from("<III", data)
    if version != 2 or length > len(data):
        raise GltfError(
            f"{path}: got GLB version {version} of {length} bytes in {len(data)}, want version 2, whole")
    chunks: Dict[int, bytes] = {}
    at = 12
    while at + 8 <= length:
        size, kind = struct.unpack_from("<II", data, at)
        if at + 8 + size > length:
            raise GltfError(f"{path}: got a chunk that ends at byte {at + 8 + size}, want at most {length}")
        chunks.setdefault(kind, data[at + 8:at + 8 + size])
        at += 8 + size
    if _CHUNK_JSON not in chunks:
        raise GltfError(f"{path}: got a GLB without a JSON chunk, want one")
    return chunks[_CHUNK_JSON], chunks.get(_CHUNK_BIN)
