"""A host over a glTF file, whose artist is a script of edits in JSON.

A script is a list of steps, each applied at its time in seconds (equal times in the order written):

    [{"at_s": 0.5, "move": "quay/porter", "by": [0, 0, -4]},
     {"at_s": 0.5, "place": "quay/porter", "matrix": [...16 numbers, column-major, object to world...]},
     {"at_s": 1.0, "move": "main", "by": [0, 0, 10]},                           a camera, by its name
     {"at_s": 1.5, "track": "main", "from": [0, 1.6, 0], "to": [0, 1.6, -30]},  over the frames of the shot
     {"at_s": 2.0, "add": "quay/porter_2", "like": "quay/porter", "by": [1, 0, 0]},
     {"at_s": 2.5, "rename": "quay/porter", "to": "quay/head_porter"},
     {"at_s": 3.0, "remove": "quay/stall_07"},
     {"at_s": 3.5, "set": "quay/head_porter", "class_name": "lead", "importance": 10},
     {"at_s": 4.0, "options": {"anim_hours": 12}},
     {"at_s": 4.5, "frame": 1010}]

Objects and cameras are named as they are called at that moment; lengths are metres. Which nodes become
objects, and where class and asset come from: gltf_scene.py.
"""

import json
import os
from dataclasses import fields as dataclass_fields
from dataclasses import replace
from typing import Any, Callable, Dict, Iterable, List, Optional, Sequence, Union

from ..host import (Change, ChangeListener, Conventions, Handle, Host, HostCamera, HostObject, Options,
                    ShotHeader)
from .gltf_scene import read_scene
from .matrix import moved

_NOT_SET = {"handle", "name", "box", "transforms", "container", "particulars"}
_OBJECT_FIELDS = {item.name for item in dataclass_fields(HostObject)} - _NOT_SET


class ScriptError(ValueError):
    """A step that cannot be done: which, what was got, what was wanted."""


class GltfHost(Host):
    """The scene of a glTF file over `frame_count` frames. Not thread-safe, as hosts are."""

    def __init__(self, path: str, header: Optional[ShotHeader] = None, first_frame: int = 1,
                 width_px: int = 2048, height_px: int = 0) -> None:
        """Reads the file. OSError, GltfError. header: by default one frame, named like the file."""
        scene = read_scene(path, width_px, height_px)
        self.warnings: List[str] = scene.warnings
        self._objects: Dict[Handle, HostObject] = dict(scene.objects)
        # As an import takes it: the first camera of the scene.
        self._cameras: Dict[Handle, HostCamera] = dict(list(scene.cameras.items())[:1])
        if len(scene.cameras) > 1:
            self.warnings.append(
                f"camera {next(iter(scene.cameras.values())).name!r} is taken of {len(scene.cameras)}")
        name = os.path.splitext(os.path.basename(path))[0]
        self._header = ShotHeader(name, 1) if header is None else header
        self._conventions = Conventions(first_frame=first_frame)
        self._options = Options()
        self._frame: Optional[int] = None
        self._listener: Optional[ChangeListener] = None
        self._added = 0

    # What the kit asks.

    def conventions(self) -> Conventions:
        return self._conventions

    def header(self) -> ShotHeader:
        return self._header

    def cameras(self) -> Sequence[HostCamera]:
        return list(self._cameras.values())

    def object_handles(self) -> Iterable[Handle]:
        return list(self._objects)

    def read_object(self, handle: Handle) -> Optional[HostObject]:
        return self._objects.get(handle)

    def options(self) -> Options:
        return self._options

    def current_frame(self) -> Optional[int]:
        return self._frame

    def listen(self, listener: Optional[ChangeListener]) -> None:
        self._listener = listener

    # What the script does.

    def apply(self, step: Dict[str, Any]) -> None:
        """Does one step. ScriptError where it is none or names what is not there; then nothing has
        changed."""
        kinds = [kind for kind in self._steps() if kind in step]
        if len(kinds) != 1:
            raise ScriptError(
                f"{json.dumps(step)}: got {kinds or 'no kind'}, want one of {', '.join(self._steps())}")
        try:
            self._steps()[kinds[0]](step)
        except (KeyError, TypeError, ValueError) as error:
            if isinstance(error, ScriptError):
                raise
            raise ScriptError(f"{json.dumps(step)}: {type(error).__name__} {error}") from error

    def _steps(self) -> Dict[str, Callable[[Dict[str, Any]], None]]:
        return {
            "move": self._move, "place": self._place, "track": self._track, "add": self._add,
            "rename": self._rename, "remove": self._remove, "set": self._set, "options": self._set_options,
            "frame": self._set_frame
        }

    def _find(self, name: str, step: Dict[str, Any]) -> Union[HostObject, HostCamera]:
        for thing in (*self._objects.values(), *self._cameras.values()):
            if thing.name == name:
                return thing
        raise ScriptError(f"{json.dumps(step)}: got {name!r}, want the name of an object or a camera")

    def _object(self, name: str, step: Dict[str, Any]) -> HostObject:
        found = self._find(name, step)
        if not isinstance(found, HostObject):
            raise ScriptError(f"{json.dumps(step)}: got the camera {name!r}, want an object")
        return found

    def _keep(self, thing: Union[HostObject, HostCamera]) -> None:
        if isinstance(thing, HostObject):
            self._objects[thing.handle] = thing
            if self._listener is not None:
                self._listener.object_changed(thing.handle)
        else:
            self._cameras[thing.handle] = thing
            if self._listener is not None:
                self._listener.changed(Change.CAMERA, thing.handle)

    def _move(self, step: Dict[str, Any]) -> None:
        thing = self._find(step["move"], step)
        x, y, z = step["by"]
        self._keep(replace(thing, transforms=[moved(matrix, x, y, z) for matrix in thing.transforms]))

    def _place(self, step: Dict[str, Any]) -> None:
        matrix = tuple(float(number) for number in step["matrix"])
        if len(matrix) != 16:
            raise ScriptError(f"{json.dumps(step)}: got {len(matrix)} numbers, want 16")
        self._keep(replace(self._find(step["place"], step), transforms=[matrix]))

    def _track(self, step: Dict[str, Any]) -> None:
        """One place a frame, evenly from the first to the last."""
        thing = self._find(step["track"], step)
        start, end = step["from"], step["to"]
        last = max(1, self._header.frame_count - 1)
        turned = tuple(thing.transforms[0][:12])
        self._keep(replace(thing, transforms=[
            (*turned, *(a + (b - a) * index / last for a, b in zip(start, end)), 1.0)
            for index in range(self._header.frame_count)]))

    def _add(self, step: Dict[str, Any]) -> None:
        like = self._object(step["like"], step)
        x, y, z = step.get("by", (0, 0, 0))
        self._added += 1
        self._keep(replace(like, handle=f"added {self._added}", name=step["add"],
                           transforms=[moved(matrix, x, y, z) for matrix in like.transforms]))

    def _rename(self, step: Dict[str, Any]) -> None:
        self._keep(replace(self._find(step["rename"], step), name=step["to"]))

    def _remove(self, step: Dict[str, Any]) -> None:
        handle = self._object(step["remove"], step).handle
        del self._objects[handle]
        if self._listener is not None:
            self._listener.object_removed(handle)

    def _set(self, step: Dict[str, Any]) -> None:
        given = {key: value for key, value in step.items() if key not in ("set", "at_s")}
        unknown = sorted(given.keys() - _OBJECT_FIELDS)
        if unknown:
            raise ScriptError(f"{json.dumps(step)}: got {unknown}, want some of {sorted(_OBJECT_FIELDS)}")
        self._keep(replace(self._object(step["set"], step), **given))

    def _set_options(self, step: Dict[str, Any]) -> None:
        self._options = Options(**step["options"])
        if self._listener is not None:
            self._listener.changed(Change.OPTIONS)

    def _set_frame(self, step: Dict[str, Any]) -> None:
        self._frame = int(step["frame"])
        if self._listener is not None:
            self._listener.changed(Change.FRAME)


class Replay:
    """A script over a host, by the time that the caller tells."""

    def __init__(self, host: GltfHost, script: Union[str, Sequence[Dict[str, Any]]]) -> None:
        """A list of steps, or a file of one. OSError; ScriptError naming every step without a time."""
        if isinstance(script, str):
            with open(script, encoding="utf-8") as stream:
                try:
                    script = json.load(stream)
                except ValueError as error:
                    raise ScriptError(f"got no JSON: {error}") from error
        if not isinstance(script, list) or not all(isinstance(step, dict) for step in script):
            raise ScriptError("got something else, want a list of steps")
        faults = [
            f"step {index}: got at_s {step.get('at_s')!r}, want seconds from 0"
            for index, step in enumerate(script)
            if not isinstance(step.get("at_s"), (int, float)) or step["at_s"] < 0
        ]
        if faults:
            raise ScriptError("; ".join(faults))
        self._host = host
        # A stable sort: equal times stay in the order written.
        self._steps: List[Dict[str, Any]] = sorted(script, key=lambda step: float(step["at_s"]))
        self._done = 0

    @property
    def finished(self) -> bool:
        """Whether every step was applied."""
        return self._done == len(self._steps)

    def until(self, seconds: float) -> int:
        """Applies the steps that are due by then; how many. ScriptError from a step leaves it counted as
        done."""
        before = self._done
        while not self.finished and self._steps[self._done]["at_s"] <= seconds:
            self._done += 1
            self._host.apply(self._steps[self._done - 1])
        return self._done - before
