"""From a host's units, axes and frame numbers to the wire's, and back.

The wire: metres, +Y up, column-major matrices, right-handed (scene.proto). With s metres per unit and R the
rotation that turns the host's up axis to +Y (the identity, or -90 degrees about X: (x, y, z) -> (x, z, -y)):

    a world point   p' = s R p
    an object       M' = (s R) M (s R)^-1: linear part R L R^-1, translation s R t; its box turns and scales
                    with it, so that "up" is +Y in its own axes too, which heights and footing are read along
    a camera        C' = (s R) C s^-1: linear part R L, translation s R t; its own axes stay, as every camera
                    looks down its own -Z with +Y up

s cancels out of linear parts, so scale that a host puts into an object's matrix stays what it is.
Source: change of basis, any linear algebra text; glTF 2.0 Specification, section 3.10, for cameras.
"""

from array import array
from itertools import chain
from typing import Callable, Dict, Hashable, List, Optional, Sequence, Tuple

from .host import (Axis, Box, Conventions, Crowd, Directive, Fields, HostCamera, HostObject, Mask,
                   MatrixLayout, Options, Particulars, PointOfInterest, ShotHeader, Span)

IdOf = Callable[[Hashable, str], str]
"""The id of an object's handle. The text says for what it is asked: part of the error where there is none."""


class HostDataError(ValueError):
    """What a host handed over cannot be said on the wire: where, what was got, what was wanted."""


class Converter:
    """Converts for one set of conventions. Raises HostDataError; never corrects. Not thread-safe."""

    def __init__(self, conventions: Conventions, id_of: IdOf) -> None:
        scale = conventions.metres_per_unit
        if not 0 < scale < float("inf"):
            raise HostDataError(f"conventions.metres_per_unit: got {scale!r}, want above 0 and finite")
        self.conventions = conventions
        self._scale = float(scale)
        self._turned = conventions.up_axis is Axis.Z
        self._by_rows = conventions.matrix_layout is MatrixLayout.ROW_MAJOR
        self._plain = not self._turned and not self._by_rows and self._scale == 1.0
        sent = conventions.sent_first_frame
        self._frame_shift = 0 if sent is None else sent - conventions.first_frame
        self._id_of = id_of

    # Frames.

    def to_wire_frame(self, frame: int) -> int:
        """A frame in the host's numbering as it is sent."""
        return frame + self._frame_shift

    def to_host_frame(self, frame: int) -> int:
        """A frame as it was answered in the host's numbering."""
        return frame - self._frame_shift

    def _range(self, span: Span) -> Fields:
        return {"first": self.to_wire_frame(span[0]), "last": self.to_wire_frame(span[1])}

    def _ranges(self, spans: Sequence[Span]) -> List[Fields]:
        return [self._range(span) for span in spans]

    # What stands above the objects.

    def header(self, header: ShotHeader, cameras: Sequence[Fields], directives: Sequence[Fields]) -> Fields:
        """The shot of a Begin or of an edit's header."""
        if header.frame_count < 1:
            raise HostDataError(f"header.frame_count: got {header.frame_count}, want at least 1")
        first = self.to_wire_frame(self.conventions.first_frame)
        fields: Fields = {
            "shot_id": header.shot_id,
            "sequence_id": header.sequence_id,
            "frames": {"first": first, "last": first + header.frame_count - 1},
            "rate": {"numerator": header.rate[0], "denominator": header.rate[1]},
            "cameras": list(cameras),
            "style": header.style,
            "directives": list(directives),
            "interest": [self._interest(point) for point in header.interest],
            "replaced": self._ranges(header.replaced),
            "beats": [self.to_wire_frame(frame) for frame in header.beats],
            "crowds": [self._crowd(crowd) for crowd in header.crowds],
        }
        if header.backdrop_colour is not None:
            fields["backdrop_colour"] = _colour(header.backdrop_colour)
        return fields

    def camera(self, camera: HostCamera, camera_id: str, frame_count: int) -> Fields:
        """A ShotCamera. Film stays in mm; an orthographic window and its offset are lengths on stage."""
        where = f"camera {camera.name!r}"
        on_stage = self._scale if camera.orthographic else 1.0
        fields: Fields = {
            "id": camera_id,
            "projection": "ORTHOGRAPHIC" if camera.orthographic else "PERSPECTIVE",
            "window_width": camera.window[0] * on_stage,
            "window_height": camera.window[1] * on_stage,
            "offset_x": camera.offset[0] * on_stage,
            "offset_y": camera.offset[1] * on_stage,
            "focal_mm": array("d", camera.focal_mm),
            "image_width_px": camera.image_px[0],
            "image_height_px": camera.image_px[1],
            "overscan_px": camera.overscan_px,
            "near_m": camera.near * self._scale,
            "far_m": camera.far * self._scale,
            "f_number": camera.f_number,
            "focus_m": array("d", (distance * self._scale for distance in camera.focus)),
            "transform": {"matrices": self._camera_track(camera.transforms, where, frame_count)},
            "stereo_pair": camera.stereo_pair,
            "masks": [self._mask(mask) for mask in camera.masks],
        }
        return fields

    def _mask(self, mask: Mask) -> Fields:
        return {"left": mask.left, "top": mask.top, "right": mask.right, "bottom": mask.bottom,
                "frames": self._ranges(mask.frames)}

    def directive(self, directive: Directive) -> Fields:
        """A Directive on an object, an asset or a class."""
        fields: Fields = {
            "bound": directive.bound, "tier": directive.tier, "who": directive.who, "why": directive.why
        }
        targets = [directive.handle is not None, bool(directive.asset), bool(directive.class_name)]
        if sum(targets) != 1:
            raise HostDataError(
                f"directive {directive.bound} {directive.tier}: got {sum(targets)} of handle, asset and "
                "class_name, want exactly one")
        if directive.handle is not None:
            fields["object_id"] = self._id_of(directive.handle, "directive")
        elif directive.asset:
            fields["asset_id"] = directive.asset
        else:
            fields["class_name"] = directive.class_name
        return fields

    def _interest(self, point: PointOfInterest) -> Fields:
        fields: Fields = {}
        if (point.handle is None) == (point.place is None):
            raise HostDataError(
                "point of interest: got both or neither of handle and place, want exactly one")
        if point.handle is not None:
            fields["object_id"] = self._id_of(point.handle, "point of interest")
        elif point.place is not None:
            fields["place"] = {"x": point.place[0], "y": point.place[1]}
        if point.frames is not None:
            fields["frames"] = self._range(point.frames)
        return fields

    def _crowd(self, crowd: Crowd) -> Fields:
        where = f"crowd {crowd.name!r}"
        fields: Fields = {
            "name": crowd.name,
            "object_ids": [self._id_of(handle, where) for handle in crowd.handles],
            "asset_ids": list(crowd.assets),
            "class_names": list(crowd.class_names),
            "container_ids": [self._id_of(handle, where) for handle in crowd.containers],
            "cell_columns": crowd.cells[0],
            "cell_rows": crowd.cells[1],
        }
        _set_given(fields, crowd, ("keep_share", "least_covered_share"))
        return fields

    def options(self, options: Options) -> Fields:
        """A PlanOptions."""
        fields: Fields = {
            "style": options.style,
            "share_holds_in_containers": options.share_holds_in_containers,
            "alike": options.alike,
            "earlier": [{"object_id": self._id_of(handle, "options.earlier"), "tier": tier}
                        for handle, tier in options.earlier.items()],
        }
        _set_given(fields, options, ("anim_hours", "core_hours", "other_hours", "memory_mb", "target_gap",
                                     "change_margin", "change_margin_least"))
        return fields

    # Objects.

    def object(self, thing: HostObject, frame_count: int) -> Fields:
        """A SceneObject. Handle and container become ids."""
        where = f"object {thing.name!r}"
        fields: Fields = {
            "id": self._id_of(thing.handle, where),
            "class_name": thing.class_name,
            "asset_id": thing.asset,
            "box": self._box(thing.box),
            "transform": {"matrices": self._object_track(thing.transforms, where, frame_count)},
        }
        if thing.container is not None:
            fields["container_id"] = self._id_of(thing.container, f"{where}, container")
        _set_given(fields, thing, ("importance", "complexity"))
        if thing.colour is not None:
            fields["colour"] = _colour(thing.colour)
        if thing.particulars is not None:
            fields["particulars"] = self._particulars(thing.particulars)
        return fields

    def _particulars(self, given: Particulars) -> Fields:
        fields: Fields = {
            "openings": [self._box(opening) for opening in given.openings],
            "indirect": [{"kind": kind, "frames": self._ranges(spans)} for kind, spans in given.indirect],
            "hold_group": given.hold_group,
            "replaced": self._ranges(given.replaced),
            "beats": [self.to_wire_frame(frame) for frame in given.beats],
        }
        if given.inner_box is not None:
            fields["occluder"] = {"inner_box": given.inner_box}
        return fields

    def _box(self, box: Box) -> Fields:
        s = self._scale
        (x0, y0, z0), (x1, y1, z1) = box.least, box.most
        if self._turned:
            (x0, y0, z0), (x1, y1, z1) = (x0, z0, -y1), (x1, z1, -y0)
        return {
            "min_m": {"x": x0 * s, "y": y0 * s, "z": z0 * s},
            "max_m": {"x": x1 * s, "y": y1 * s, "z": z1 * s}
        }

    def _object_track(self, track: Sequence[Sequence[float]], where: str, frame_count: int) -> "array[float]":
        return self._track(track, where, frame_count, _turn_object)

    def _camera_track(self, track: Sequence[Sequence[float]], where: str, frame_count: int) -> "array[float]":
        return self._track(track, where, frame_count, _turn_camera)

    def _track(self, track: Sequence[Sequence[float]], where: str, frame_count: int,
               turn: "Callable[[Sequence[float]], Tuple[float, ...]]") -> "array[float]":
        """All matrices, column-major, one run. The wire takes one, or one per frame."""
        if len(track) not in (1, frame_count):
            raise HostDataError(
                f"{where}: got {len(track)} transforms, want 1 or {frame_count}, one per frame")
        for index, matrix in enumerate(track):
            if len(matrix) != 16:
                raise HostDataError(f"{where}, transform {index}: got {len(matrix)} numbers, want 16")
        if self._plain:
            return array("d", chain.from_iterable(track))
        numbers = array("d")
        for matrix in track:
            m: Sequence[float] = _transposed(matrix) if self._by_rows else matrix
            numbers.extend(self._scaled(turn(m) if self._turned else m))
        return numbers

    def _scaled(self, m: Sequence[float]) -> Sequence[float]:
        s = self._scale
        if s == 1.0:
            return m
        return (*m[:12], m[12] * s, m[13] * s, m[14] * s, m[15])


def _transposed(m: Sequence[float]) -> Tuple[float, ...]:
    return tuple(m[4 * column + row] for row in range(4) for column in range(4))


def _turn_object(m: Sequence[float]) -> Tuple[float, ...]:
    """R M R^-1 for R: (x, y, z) -> (x, z, -y). R takes rows (0, 1, 2) to (0, 2, -1); R^-1 from the right does
    the same to columns: the new second column is the old third, the new third is the old second, negated."""
    return (m[0], m[2], -m[1], m[3],
            m[8], m[10], -m[9], m[11],
            -m[4], -m[6], m[5], -m[7],
            m[12], m[14], -m[13], m[15])


def _turn_camera(m: Sequence[float]) -> Tuple[float, ...]:
    """R M: rows only."""
    return (m[0], m[2], -m[1], m[3],
            m[4], m[6], -m[5], m[7],
            m[8], m[10], -m[9], m[11],
            m[12], m[14], -m[13], m[15])


def _colour(colour: Tuple[int, int, int]) -> Dict[str, int]:
    return {"red": colour[0], "green": colour[1], "blue": colour[2]}


def _set_given(fields: Fields, given: object, names: Sequence[str]) -> None:
    """Copies what is not None: fields whose absence means something on the wire."""
    for name in names:
        value: Optional[float] = getattr(given, name)
        if value is not None:
            fields[name] = value
