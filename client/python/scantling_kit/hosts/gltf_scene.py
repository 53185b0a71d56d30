"""Objects and cameras of a glTF scene, by the same rules as `scantling import` (client/import).

A node with a mesh is an object: its id path is the names from its root joined by "/", its box that of the
mesh's POSITION accessors. Class, asset, importance, inner box and hold group come from extras
`scantling_class` and so on, or the same without `scantling_`, of the node, its mesh, or the nearest parent
that has one; an asset may also be the mesh's name. A perspective camera becomes film 24 mm high with the
focal length that gives its angle of view. Source: glTF 2.0 Specification, sections 3.5 (scenes), 3.10
(cameras).
"""

import math
from dataclasses import dataclass, field
from typing import Any, Dict, List, Optional, Tuple

from ..host import Box, HostCamera, HostObject, Particulars
from .gltf_file import GltfError, GltfFile
from .matrix import IDENTITY, Matrix, from_parts, is_flat, multiply

_WINDOW_HEIGHT_MM = 24.0
_DEFAULT_HEIGHT_PX = 858
_LONGEST_ID_BYTES = 200
_MOST_DEPTH = 1000


@dataclass
class Labels:
    """What extras say; None and empty: nothing."""

    class_name: str = ""
    asset: str = ""
    hold_group: str = ""
    importance: Optional[float] = None
    inner_box: Optional[float] = None


@dataclass
class GltfScene:
    """What was read. Handles are node indices."""

    objects: Dict[int, HostObject] = field(default_factory=dict)
    cameras: Dict[int, HostCamera] = field(default_factory=dict)
    warnings: List[str] = field(default_factory=list)


def read_scene(path: str, width_px: int = 2048, height_px: int = 0, default_class: str = "prop") -> GltfScene:
    """The default scene of a file, else the first, else all roots. height_px 0: from the first camera's
    aspect, else
    858. OSError, GltfError. What is left out (animation, instancing, skins) is told in warnings."""
    return _Reader(GltfFile(path), width_px, height_px, default_class).read()


class _Reader:
    def __init__(self, file: GltfFile, width_px: int, height_px: int, default_class: str) -> None:
        self._file = file
        self._nodes = file.items("nodes")
        self._size = (width_px, height_px)
        self._default_class = default_class
        self._scene = GltfScene()
        self._parents: Dict[int, int] = {}
        self._names: Dict[int, str] = {}
        self._worlds: Dict[int, Matrix] = {}
        self._labels: Dict[int, Labels] = {}

    def read(self) -> GltfScene:
        order = self._order()
        self._choose_size(order)
        without_class = 0
        left_out = 0
        for node in order:
            fields = self._nodes[node]
            parent = self._parents.get(node)
            local = self._local(node, fields)
            self._worlds[node] = local if parent is None else multiply(self._worlds[parent], local)
            self._labels[node] = self._read_labels(node, fields,
                                                   None if parent is None else self._labels[parent])
            if "camera" in fields:
                self._scene.cameras[node] = self._camera(node, fields)
            if "mesh" in fields:
                box = self._box(node, fields)
                if box is None or is_flat(self._worlds[node]):
                    left_out += 1
                    continue
                without_class += not self._labels[node].class_name
                self._scene.objects[node] = self._object(node, fields, box)
        self._warn(without_class, left_out, order)
        return self._scene

    def _order(self) -> List[int]:
        """Nodes of the scene, a parent before its children."""
        file = self._file
        for index, fields in enumerate(self._nodes):
            for child in fields.get("children", ()):
                file.item("nodes", child, f"nodes[{index}].children")
                if child in self._parents:
                    raise GltfError(f"{file.path}: nodes[{child}]: got two parents, want at most one")
                self._parents[child] = index
        scenes = file.items("scenes")
        if scenes:
            roots = file.item("scenes", file.document.get("scene", 0), "scene").get("nodes", [])
        else:
            roots = [index for index in range(len(self._nodes)) if index not in self._parents]
        order: List[int] = []
        seen = set()
        open_: List[Tuple[int, int]] = [(root, 1) for root in reversed(roots)]
        while open_:
            node, depth = open_.pop()
            file.item("nodes", node, "scene.nodes")
            if node in seen or depth > _MOST_DEPTH:
                raise GltfError(
                    f"{file.path}: nodes[{node}]: got it twice or deeper than {_MOST_DEPTH}, want a tree")
            seen.add(node)
            order.append(node)
            self._names[node] = self._path_name(node)
            open_.extend((child, depth + 1) for child in reversed(self._nodes[node].get("children", [])))
        return order

    def _path_name(self, node: int) -> str:
        name = self._nodes[node].get("name") or f"node_{node}"
        parent = self._parents.get(node)
        if parent in self._names:
            name = f"{self._names[parent]}/{name}"
        return name if len(name.encode("utf-8")) <= _LONGEST_ID_BYTES else f"node_{node}"

    def _local(self, node: int, fields: Dict[str, Any]) -> Matrix:
        where = f"{self._file.path}: nodes[{node}]"
        try:
            if "matrix" in fields:
                matrix = tuple(float(number) for number in fields["matrix"])
                if len(matrix) != 16 or (matrix[3], matrix[7], matrix[11], matrix[15]) != (0, 0, 0, 1):
                    raise GltfError(
                        f"{where}.matrix: got {fields['matrix']}, want 16 numbers with a last row of 0 0 0 1")
            else:
                matrix = from_parts(fields.get("translation", (0, 0, 0)), fields.get(
                    "rotation", (0, 0, 0, 1)), fields.get("scale", (1, 1, 1))) if fields else IDENTITY
        except (TypeError, IndexError, ValueError) as error:
            raise GltfError(f"{where}: {error}") from error
        if len(matrix) != 16 or not all(math.isfinite(number) for number in matrix):
            raise GltfError(f"{where}: got a place that is not finite, want it finite")
        return matrix

    # Labels.

    def _read_labels(self, node: int, fields: Dict[str, Any], parent: Optional[Labels]) -> Labels:
        labels = Labels()
        self._read_extras(fields.get("extras"), f"nodes[{node}]", labels)
        if "mesh" in fields:
            mesh = self._file.item("meshes", fields["mesh"], f"nodes[{node}].mesh")
            self._read_extras(mesh.get("extras"), f"meshes[{fields['mesh']}]", labels)
        if parent is not None:
            labels.class_name = labels.class_name or parent.class_name
            labels.asset = labels.asset or parent.asset
            labels.hold_group = labels.hold_group or parent.hold_group
            labels.importance = parent.importance if labels.importance is None else labels.importance
            labels.inner_box = parent.inner_box if labels.inner_box is None else labels.inner_box
        return labels

    def _read_extras(self, extras: Any, where: str, labels: Labels) -> None:
        if not isinstance(extras, dict):
            return
        labels.class_name = labels.class_name or self._text(extras, "class", where)
        labels.asset = labels.asset or self._text(extras, "asset", where)
        labels.hold_group = labels.hold_group or self._text(extras, "hold_group", where)
        if labels.importance is None:
            labels.importance = self._number(extras, "importance", where, lambda number: number > 0,
                                             "above 0")
        if labels.inner_box is None:
            labels.inner_box = self._number(extras, "inner_box", where, lambda number: 0 <= number <= 1,
                                            "from 0 to 1")

    def _text(self, extras: Dict[str, Any], key: str, where: str) -> str:
        value = extras.get(f"scantling_{key}", extras.get(key, ""))
        if isinstance(value, str):
            return value
        self._scene.warnings.append(f"{where}.extras.{key}: is no string; left out")
        return ""

    def _number(self, extras: Dict[str, Any], key: str, where: str, fits: Any,
                wanted: str) -> Optional[float]:
        value = extras.get(f"scantling_{key}", extras.get(key))
        if value is None:
            return None
        if isinstance(value,
                      (int, float)) and not isinstance(value, bool) and math.isfinite(value) and fits(value):
            return float(value)
        self._scene.warnings.append(f"{where}.extras.{key}: is no number {wanted}; left out")
        return None

    # Objects and cameras.

    def _box(self, node: int, fields: Dict[str, Any]) -> Optional[Box]:
        mesh = self._file.item("meshes", fields["mesh"], f"nodes[{node}].mesh")
        boxes = []
        for index, primitive in enumerate(mesh.get("primitives", ())):
            accessor = primitive.get("attributes", {}).get("POSITION")
            if accessor is not None:
                boxes.append(self._file.bounds(accessor, f"meshes[{fields['mesh']}].primitives[{index}]"))
        if not boxes:
            return None
        x0, y0, z0 = (float(min(box[0][axis] for box in boxes)) for axis in range(3))
        x1, y1, z1 = (float(max(box[1][axis] for box in boxes)) for axis in range(3))
        thin = (x0 == x1) + (y0 == y1) + (z0 == z1)
        return None if thin > 1 else Box((x0, y0, z0), (x1, y1, z1))

    def _object(self, node: int, fields: Dict[str, Any], box: Box) -> HostObject:
        labels = self._labels[node]
        mesh = self._file.item("meshes", fields["mesh"], f"nodes[{node}].mesh")
        asset = labels.asset or mesh.get("name") or f"mesh_{fields['mesh']}"
        particulars = None
        if labels.inner_box is not None or labels.hold_group:
            particulars = Particulars(inner_box=labels.inner_box, hold_group=labels.hold_group)
        return HostObject(node, self._names[node], labels.class_name or self._default_class, box,
                          [self._worlds[node]], asset=asset, importance=labels.importance,
                          particulars=particulars)

    def _choose_size(self, order: List[int]) -> None:
        width, height = self._size
        first = next((node for node in order if "camera" in self._nodes[node]), None)
        if height == 0 and first is not None:
            aspect = self._aspect(
                self._file.item("cameras", self._nodes[first]["camera"], f"nodes[{first}].camera"))
            # Half away from zero, as std::lround does; round() goes to even.
            height = max(1, math.floor(width / aspect + 0.5)) if aspect else 0
        self._size = (width, height or _DEFAULT_HEIGHT_PX)

    @staticmethod
    def _aspect(camera: Dict[str, Any]) -> float:
        if camera.get("type") == "orthographic":
            window = camera.get("orthographic", {})
            return window["xmag"] / window["ymag"] if window.get("xmag") and window.get("ymag") else 0.0
        return float(camera.get("perspective", {}).get("aspectRatio", 0.0))

    def _camera(self, node: int, fields: Dict[str, Any]) -> HostCamera:
        index = fields["camera"]
        camera = self._file.item("cameras", index, f"nodes[{node}].camera")
        name = fields.get("name") or camera.get("name") or f"camera_{node}"
        kind = camera.get("type")
        where = f"{self._file.path}: cameras[{index}].{kind}"
        given = camera.get(str(kind), {})
        if kind == "perspective":
            yfov = given.get("yfov", 0.0)
            if not 0 < yfov < math.pi:
                raise GltfError(f"{where}.yfov: got {yfov}, want above 0 and below pi")
            aspect = given.get("aspectRatio", 0.0) or self._size[0] / self._size[1]
            return HostCamera(node, name, [self._worlds[node]],
                              (_WINDOW_HEIGHT_MM * aspect, _WINDOW_HEIGHT_MM), self._size,
                              focal_mm=[_WINDOW_HEIGHT_MM / 2 / math.tan(yfov / 2)],
                              near=given.get("znear", 0.0), far=given.get("zfar", 0.0))
        if kind == "orthographic":
            window = (2 * given.get("xmag", 0.0), 2 * given.get("ymag", 0.0))
            return HostCamera(node, name, [self._worlds[node]], window, self._size, orthographic=True,
                              near=given.get("znear", 0.0), far=given.get("zfar", 0.0))
        raise GltfError(
            f"{self._file.path}: cameras[{index}].type: got {kind!r}, want perspective or orthographic")

    def _warn(self, without_class: int, left_out: int, order: List[int]) -> None:
        warn = self._scene.warnings.append
        document = self._file.document
        if without_class:
            warn(f"no class given ({without_class} objects); '{self._default_class}' is taken")
        if left_out:
            warn(f"{left_out} objects left out: no positions, a line, a point, or scaled to nothing")
        if document.get("animations"):
            warn(f"{len(document['animations'])} animations are not read: everything stands as at rest")
        if any("EXT_mesh_gpu_instancing" in self._nodes[node].get("extensions", {}) for node in order):
            warn("EXT_mesh_gpu_instancing is not read: an instanced node is one object")
        if any("skin" in self._nodes[node] for node in order):
            warn("skinned nodes: boxes are those of the rest pose")
