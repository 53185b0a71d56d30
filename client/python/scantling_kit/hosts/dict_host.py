"""The template: a host whose scene is plain Python dicts. Copy this file to write a bridge of your own.

A scene is one dict (lengths in its own unit, frames in its own numbering):

    {"metres_per_unit": 0.01, "up_axis": "Z", "matrix_layout": "row major", "first_frame": 1001,
     "shot_id": "qy_010", "frame_count": 48, "rate": [24, 1], "style": "", "current_frame": 1001,
     "cameras": {"cam-1": {"name": "main", "window": [36, 15], "focal_mm": [35], "image_px": [2048, 853],
                           "near": 10, "transforms": [[...16 numbers...]]}},
     "objects": {"uuid-1": {"name": "porter", "class_name": "person", "box": [[-25, -25, 0], [25, 25, 175]],
                            "transforms": [[...]], "container": "uuid-9", "asset": "porter_a"}},
     "directives": [{"handle": "uuid-1", "bound": "AT_LEAST", "tier": "PROXY"}],
     "options": {"anim_hours": 40}}

Keys of cameras and objects are the handles. Further keys of an object, a camera, a directive and the options
are those of HostObject, HostCamera, Directive and Options. A real host has a scene of its own already; what
its bridge needs is what stands below: six small methods, and calls to the listener from the host's own change
callbacks, which here are the methods that edit the scene.
"""

from typing import Any, Dict, Iterable, Mapping, Optional, Sequence

from ..host import (Axis, Box, Change, ChangeListener, Conventions, Crowd, Directive, Handle, Host,
                    HostCamera, HostObject, MatrixLayout, Options, Particulars, PointOfInterest, ShotHeader)

_HEADER_KEYS = ("shot_id", "frame_count", "rate", "sequence_id", "style", "backdrop_colour", "replaced",
                "beats")


class DictHost(Host):
    """A scene in dicts, and the calls that edit it. On one thread, as a host's scene is."""

    def __init__(self, scene: Mapping[str, Any]) -> None:
        """Takes a copy of the scene, two levels deep: lists in it are taken over and must not be changed
        afterwards."""
        self._scene: Dict[str, Any] = dict(scene)
        self._objects: Dict[Handle, Dict[str, Any]] = {
            handle: dict(fields) for handle, fields in scene.get("objects", {}).items()}
        self._cameras: Dict[Handle, Dict[str, Any]] = {
            handle: dict(fields) for handle, fields in scene.get("cameras", {}).items()}
        self._listener: Optional[ChangeListener] = None

    # What the kit asks.

    def conventions(self) -> Conventions:
        scene = self._scene
        return Conventions(scene.get("metres_per_unit", 1.0), Axis(scene.get("up_axis", "Y")),
                           MatrixLayout(scene.get("matrix_layout", "column major")),
                           scene.get("first_frame", 1), scene.get("sent_first_frame"))

    def header(self) -> ShotHeader:
        fields = {key: self._scene[key] for key in _HEADER_KEYS if key in self._scene}
        fields["interest"] = [PointOfInterest(**point) for point in self._scene.get("interest", ())]
        fields["crowds"] = [Crowd(**crowd) for crowd in self._scene.get("crowds", ())]
        return ShotHeader(**fields)

    def cameras(self) -> Sequence[HostCamera]:
        return [HostCamera(handle=handle, **fields) for handle, fields in self._cameras.items()]

    def object_handles(self) -> Iterable[Handle]:
        return list(self._objects)

    def read_object(self, handle: Handle) -> Optional[HostObject]:
        found = self._objects.get(handle)
        if found is None:
            return None
        fields = dict(found)
        fields["box"] = Box(*fields["box"])
        if "particulars" in fields:
            particulars = dict(fields["particulars"])
            particulars["openings"] = [Box(*box) for box in particulars.get("openings", ())]
            fields["particulars"] = Particulars(**particulars)
        return HostObject(handle=handle, **fields)

    def directives(self) -> Sequence[Directive]:
        return [Directive(**ruling) for ruling in self._scene.get("directives", ())]

    def options(self) -> Options:
        return Options(**self._scene.get("options", {}))

    def current_frame(self) -> Optional[int]:
        return self._scene.get("current_frame")

    def listen(self, listener: Optional[ChangeListener]) -> None:
        self._listener = listener

    # What the artist does.

    def set_object(self, handle: Handle, **fields: Any) -> None:
        """Adds an object, or changes some of an object's fields."""
        self._objects.setdefault(handle, {}).update(fields)
        if self._listener is not None:
            self._listener.object_changed(handle)

    def remove_object(self, handle: Handle) -> None:
        """Removes an object. KeyError where there is none."""
        del self._objects[handle]
        if self._listener is not None:
            self._listener.object_removed(handle)

    def set_camera(self, handle: Handle, **fields: Any) -> None:
        """Adds a camera, or changes some of a camera's fields."""
        known = handle in self._cameras
        self._cameras.setdefault(handle, {}).update(fields)
        if self._listener is not None:
            self._listener.changed(Change.CAMERA if known else Change.HEADER, handle)

    def remove_camera(self, handle: Handle) -> None:
        """Removes a camera. KeyError where there is none."""
        del self._cameras[handle]
        if self._listener is not None:
            self._listener.changed(Change.HEADER)

    def set_shot(self, **fields: Any) -> None:
        """Changes what stands above the objects: any key of the scene but "objects" and "cameras"."""
        self._scene.update(fields)
        if self._listener is None:
            return
        special = {"directives": Change.DIRECTIVES, "options": Change.OPTIONS, "current_frame": Change.FRAME}
        for what in {special.get(key, Change.HEADER) for key in fields}:
            self._listener.changed(what)
