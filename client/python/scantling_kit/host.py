"""What a plugin implements: a host's own scene, said in the host's own units, axes and names.

All methods of :class:`Host` are called on the host's thread, from inside :meth:`LiveShot.pump`, and may touch
the host's scene freely. What they return is taken as it stands at that moment: hand over values that you will
not change afterwards (tuples, or fresh lists).

Units and axes are the host's; :class:`Conventions` says which, and the kit converts. Everything optional may
be left out; the daemon's own defaults then hold. Nothing is corrected silently: what is wrong comes back as a
refusal.
"""

import enum
from abc import ABC, abstractmethod
from dataclasses import dataclass, field
from typing import Any, Dict, Hashable, Iterable, Mapping, Optional, Sequence, Tuple

Handle = Hashable
"""Names an object or a camera for as long as it exists, whatever it is called: a UUID, a pointer's number, a
path that never changes. Two things never share one at the same time."""

Vector = Tuple[float, float, float]
Span = Tuple[int, int]
"""First and last frame, both inclusive, in the host's numbering."""

Matrix = Sequence[float]
"""16 numbers in the order that :attr:`Conventions.matrix_layout` says, object (or camera) to world."""


class Axis(enum.Enum):
    """Which axis of the host's world points up. Worlds are right-handed either way."""

    Y = "Y"
    Z = "Z"


class MatrixLayout(enum.Enum):
    """In which order a matrix's 16 numbers come. For a matrix that multiplies column vectors from the left:

    COLUMN_MAJOR   column after column; the translation is numbers 12, 13, 14 (counted from 0). A host that
                   writes row vectors row after row gives the very same 16 numbers: it says COLUMN_MAJOR too.
    ROW_MAJOR      row after row; the translation is numbers 3, 7, 11.
    """

    COLUMN_MAJOR = "column major"
    ROW_MAJOR = "row major"


@dataclass(frozen=True)
class Conventions:
    """How the host measures. Read anew with every header; a change of it sends everything again.

    metres_per_unit   length of one unit of the host's world in metres: 0.01 for centimetres. Applies to
                      transforms, boxes, near, far, focus and orthographic windows. Film stays in millimetres.
    up_axis           the world's up axis. With Z up, the world and every object's own axes are turned by -90
                      degrees about X: (x, y, z) becomes (x, z, -y). Cameras look down their own -Z with their
                      own +Y up either way, so a camera's own axes stay and only its world turns.
    matrix_layout     order of a matrix's numbers.
    first_frame       the shot's first frame in the host's numbering.
    sent_first_frame  number under which that frame is sent; None: the host's own. For a host that counts from
                      0 while the production counts the shot from 1001. Whatever comes back is in the host's
                      numbering again.
    """

    metres_per_unit: float = 1.0
    up_axis: Axis = Axis.Y
    matrix_layout: MatrixLayout = MatrixLayout.COLUMN_MAJOR
    first_frame: int = 1
    sent_first_frame: Optional[int] = None


@dataclass(frozen=True)
class Box:
    """Bounds along the object's own axes, in the host's units. `most` not below `least`."""

    least: Vector
    most: Vector


@dataclass(frozen=True)
class Particulars:
    """What only some objects have; see Particulars in scene.proto. Frames in the host's numbering."""

    inner_box: Optional[float] = None  # share of the box that hides what is behind; 0: nothing
    openings: Sequence[Box] = ()       # holes in what it hides, in its own axes, host's units
    indirect: Sequence[Tuple[str, Sequence[Span]]] = ()  # "SHADOW", "REFLECTION" or "LIGHT"; spans, none: all
    hold_group: str = ""
    replaced: Sequence[Span] = ()
    beats: Sequence[int] = ()


@dataclass(frozen=True)
class HostObject:
    """One thing placed in the shot.

    name       for people; may change, and need not be unique. The id that is sent is made of the first one.
    container  handle of the object that holds it; None: nothing does.
    transforms one matrix (it stays), or one per frame of the shot (it moves).
    """

    handle: Handle
    name: str
    class_name: str
    box: Box
    transforms: Sequence[Matrix]
    asset: str = ""
    container: Optional[Handle] = None
    importance: Optional[float] = None
    complexity: Optional[float] = None
    colour: Optional[Tuple[int, int, int]] = None  # sRGB, 0..255
    particulars: Optional[Particulars] = None


@dataclass(frozen=True)
class Mask:
    """A rectangle of the picture that will be covered later; shares of it from the left and from the top,
    0..1."""

    left: float
    top: float
    right: float
    bottom: float
    frames: Sequence[Span] = ()  # none: all


@dataclass(frozen=True)
class HostCamera:
    """A camera whose picture is delivered.

    window     width and height: film aperture in mm (perspective), or of the picture on stage in the host's
               units.
    offset     of the window's centre, in the same unit.
    focal_mm   one, or one per frame; perspective only.
    near, far, focus   the host's units; far 0: no far plane; focus: none (infinity), one, or one per frame.
    """

    handle: Handle
    name: str
    transforms: Sequence[Matrix]
    window: Tuple[float, float]
    image_px: Tuple[int, int]
    focal_mm: Sequence[float] = ()
    orthographic: bool = False
    offset: Tuple[float, float] = (0.0, 0.0)
    overscan_px: float = 0.0
    near: float = 0.1
    far: float = 0.0
    f_number: float = 0.0
    focus: Sequence[float] = ()
    stereo_pair: str = ""
    masks: Sequence[Mask] = ()


@dataclass(frozen=True)
class Directive:
    """A ruling. Exactly one of `handle`, `asset`, `class_name` is given.

    bound  "AT_LEAST", "AT_MOST" or "EXACTLY";  tier  "FULL_RIG", "PROXY", "COLOUR_PATCH" or "OMITTED".
    """

    bound: str
    tier: str
    handle: Optional[Handle] = None
    asset: str = ""
    class_name: str = ""
    who: str = ""
    why: str = ""


@dataclass(frozen=True)
class PointOfInterest:
    """Where the audience looks: an object, or a place in every picture (shares from the left and the top,
    0..1)."""

    handle: Optional[Handle] = None
    place: Optional[Tuple[float, float]] = None
    frames: Optional[Span] = None  # None: all


@dataclass(frozen=True)
class Crowd:
    """A named group of which enough must stay; see Crowd in scene.proto."""

    name: str
    handles: Sequence[Handle] = ()
    assets: Sequence[str] = ()
    class_names: Sequence[str] = ()
    containers: Sequence[Handle] = ()
    keep_share: Optional[float] = None
    cells: Tuple[int, int] = (0, 0)  # columns, rows; 0: none
    least_covered_share: Optional[float] = None


@dataclass(frozen=True)
class ShotHeader:
    """What stands above the objects. frame_count frames from Conventions.first_frame on; rate as a
    fraction."""

    shot_id: str
    frame_count: int
    rate: Tuple[int, int] = (24, 1)
    sequence_id: str = ""
    style: str = ""  # empty: the daemon's default
    backdrop_colour: Optional[Tuple[int, int, int]] = None
    interest: Sequence[PointOfInterest] = ()
    replaced: Sequence[Span] = ()
    beats: Sequence[int] = ()
    crowds: Sequence[Crowd] = ()


@dataclass(frozen=True)
class Options:
    """How a plan is wanted; see PlanOptions in plan.proto. No budget at all: nothing visible is given up.

    earlier  tiers by handle that are given up only where that gains more than the margin.
    """

    style: str = ""
    anim_hours: Optional[float] = None
    core_hours: Optional[float] = None
    other_hours: Optional[float] = None
    memory_mb: Optional[float] = None
    target_gap: Optional[float] = None
    share_holds_in_containers: bool = False
    alike: bool = False
    earlier: Mapping[Handle, str] = field(default_factory=dict)
    change_margin: Optional[float] = None
    change_margin_least: Optional[float] = None


class Change(enum.Enum):
    """What a host may say has changed, besides objects."""

    HEADER = "header"  # frame range, rate, style, interest, crowds; which cameras there are; the conventions
    CAMERA = "camera"          # a camera moved or was set otherwise
    DIRECTIVES = "directives"
    OPTIONS = "options"
    FRAME = "current frame"


class ChangeListener(ABC):
    """What a host calls when its scene changes. Cheap: a note is made and nothing else. From any thread."""

    @abstractmethod
    def object_changed(self, handle: Handle) -> None:
        """An object is new, or anything of it is other than before: place, box, class, name, container."""

    @abstractmethod
    def object_removed(self, handle: Handle) -> None:
        """An object is not in the shot any more."""

    @abstractmethod
    def changed(self, what: Change, handle: Optional[Handle] = None) -> None:
        """Something above the objects; with CAMERA, which one."""


class Host(ABC):
    """The bridge to one shot in a host. Six things to say, one to call."""

    @abstractmethod
    def conventions(self) -> Conventions:
        """Units, axes, numbering."""

    @abstractmethod
    def header(self) -> ShotHeader:
        """The shot without cameras, directives and objects."""

    @abstractmethod
    def cameras(self) -> Sequence[HostCamera]:
        """Every camera whose picture is delivered; at least one."""

    @abstractmethod
    def object_handles(self) -> Iterable[Handle]:
        """All objects of the shot, containers before or after what they hold."""

    @abstractmethod
    def read_object(self, handle: Handle) -> Optional[HostObject]:
        """One object as it stands now; None where it does not exist (any more)."""

    @abstractmethod
    def listen(self, listener: Optional[ChangeListener]) -> None:
        """Remember the listener and call it on every change from now on; None: stop calling."""

    def directives(self) -> Sequence[Directive]:
        """Rulings in force."""
        return ()

    def options(self) -> Options:
        """Budgets and how the plan is wanted."""
        return Options()

    def current_frame(self) -> Optional[int]:
        """The frame the artist looks at, in the host's numbering; None: the first."""
        return None


Fields = Dict[str, Any]
"""A message as plain values: field names as in the .proto files, enums by name."""
