"""Notes of what changed, and reading it from the host in slices.

A note is a handle in a set: that is all that happens while the artist drags something. The reading is done in
pump(), on the host's thread, and stops after a few milliseconds to go on in the next pump. What is noted
twice is read once, as it then stands. A batch is closed only when everything noted at its start has been
read, so that what belongs together travels together.

    notes (set) --begin--> to read (queue) --slices--> Batch --closed--> worker

What the daemon refused stays in `diverged`: it goes along with the host's next change of any of it.
"""

import threading
from dataclasses import dataclass, field
from typing import Callable, Dict, Hashable, Iterable, List, Optional, Set, Tuple

from .convert import Converter, HostDataError
from .host import Change, ChangeListener, Conventions, Fields, Handle, Host
from .identity import IdRegistry


@dataclass
class Batch:
    """What was read in one go. Objects and cameras by id; None: not part of it."""

    number: int
    epoch: int                # which whole state it builds upon; see Session
    everything: bool          # the whole shot, not only what changed
    objects: Dict[str, Fields] = field(default_factory=dict)
    removed: Set[str] = field(default_factory=set)
    header: Optional[Fields] = None
    cameras: Dict[str, Fields] = field(default_factory=dict)
    directives: Optional[List[Fields]] = None
    options: Optional[Fields] = None
    current_frame: Optional[int] = None


@dataclass
class Notes:
    """What to read. everything: all of it, whatever else is noted."""

    everything: bool = False
    # True: changed, False: removed.
    objects: Dict[Handle, bool] = field(default_factory=dict)
    parts: Set[Change] = field(default_factory=set)
    cameras: Set[Handle] = field(default_factory=set)

    def __bool__(self) -> bool:
        return self.everything or bool(self.objects) or bool(self.parts) or bool(self.cameras)

    def add(self, other: "Notes") -> None:
        """Takes in later notes."""
        self.everything |= other.everything
        self.objects.update(other.objects)
        self.parts |= other.parts
        self.cameras |= other.cameras

    def touches(self, other: "Notes") -> bool:
        """Whether any of the other's things is noted here."""
        if other.everything:
            return bool(self)
        return (self.everything or not self.objects.keys().isdisjoint(other.objects)
                or not self.parts.isdisjoint(other.parts) or not self.cameras.isdisjoint(other.cameras)
                or bool(other.parts and self.cameras) or bool(other.cameras and Change.HEADER in self.parts)
                # What a ruling or a crowd names cannot be removed: with those the objects may go too.
                or bool(other.objects and self.parts & {Change.HEADER, Change.DIRECTIVES}))


class ChangeLog(ChangeListener):
    """Takes notes. Thread-safe; the lock is held for the length of one set operation."""

    def __init__(self, noted: Callable[[], None]) -> None:
        self._lock = threading.Lock()
        self._notes = Notes()
        self._noted = noted

    def object_changed(self, handle: Handle) -> None:
        self.note(Notes(objects={handle: True}))

    def object_removed(self, handle: Handle) -> None:
        self.note(Notes(objects={handle: False}))

    def changed(self, what: Change, handle: Optional[Handle] = None) -> None:
        if what is Change.CAMERA and handle is not None:
            self.note(Notes(cameras={handle}))
        else:
            # A camera without a handle: all of them, by way of the header.
            self.note(Notes(parts={Change.HEADER if what is Change.CAMERA else what}))

    def note(self, notes: Notes) -> None:
        """Takes in any notes and says so."""
        with self._lock:
            self._notes.add(notes)
        self._noted()

    def take(self) -> Notes:
        """All notes so far; none are left."""
        with self._lock:
            notes, self._notes = self._notes, Notes()
        return notes

    def holds(self, part: Change) -> bool:
        """Whether that part is noted."""
        with self._lock:
            return self._notes.everything or part in self._notes.parts

    def __bool__(self) -> bool:
        with self._lock:
            return bool(self._notes)


class BatchReader:
    """Reads the host. On the host's thread only.

    `fault(error, handles)` is called for what could not be read or said; it then counts as diverged.
    """

    def __init__(self, host: Host, log: ChangeLog, clock: Callable[[], float],
                 fault: Callable[[Exception, Tuple[Handle, ...]], None]) -> None:
        self._host = host
        self._log = log
        self._clock = clock
        self._fault = fault
        self.ids = IdRegistry()
        self.camera_ids = IdRegistry()
        self.diverged = Notes()
        self.renamed: Set[Handle] = set()  # since somebody last looked, and emptied it
        self._conventions = host.conventions()
        self.converter = Converter(self._conventions, self._id_of)
        self._frame_count = 0
        self._frames: Tuple[int, int] = (0, 0)  # first and count as last sent
        self._moving: Set[Handle] = set()
        self._batch: Optional[Batch] = None
        self._reading = Notes()   # what the open batch was begun for
        self._queue: List[Hashable] = []
        self._numbers = 0
        self._read_in: Dict[Handle, int] = {}  # number of the batch each object was last read for

    @property
    def reading(self) -> bool:
        """Whether a batch is open."""
        return self._batch is not None

    @property
    def frame_count(self) -> int:
        """Frames of the shot as last read."""
        return self._frame_count

    @property
    def last_number(self) -> int:
        """Number of the batch begun last."""
        return self._numbers

    def begin(self, epoch: int, everything: bool) -> None:
        """Opens a batch for all notes there are, diverged things along with any of theirs."""
        notes = self._log.take()
        notes.everything |= everything
        if self._batch is not None:
            later, notes = notes, self._reading
            notes.add(later)
        if notes.touches(self.diverged):
            self.diverged.add(notes)
            notes, self.diverged = self.diverged, Notes()
        self._numbers += 1
        self._batch = Batch(self._numbers, epoch, notes.everything)
        self._reading = notes
        try:
            self._follow_conventions(notes)
            self._batch.everything = notes.everything
            if notes.everything:
                notes.parts |= {Change.HEADER, Change.OPTIONS, Change.FRAME}
                self._moving.clear()
            self._read_parts(self._batch, notes)
            wanted: Iterable[Hashable] = self._host.object_handles() if notes.everything else notes.objects
            self._queue = list(wanted)
            self._queue.reverse()
        except Exception as error:  # pylint: disable=broad-except
            # Whatever a host raises ends here. Half a beginning is none.
            self._batch = None
            self.diverged.add(notes)
            self._fault(error, ())

    def _follow_conventions(self, notes: Notes) -> None:
        conventions = self._host.conventions()
        if conventions != self._conventions:
            self._convert_by(conventions)
            notes.everything = True

    def _convert_by(self, conventions: Conventions) -> None:
        self._conventions = conventions
        self.converter = Converter(conventions, self._id_of)

    def read_on(self, slice_s: float) -> Optional[Batch]:
        """Reads objects for about slice_s seconds, at least one; the batch where that was all of it."""
        batch = self._batch
        if batch is None:
            return None
        end = self._clock() + slice_s
        while self._queue:
            self._read(self._queue.pop(), batch)
            if self._queue and self._clock() >= end:
                return None
        self._batch = None
        self._reading = Notes()
        return batch

    def read_since(self, handle: Handle, number: int) -> bool:
        """Whether the object was read for a batch after that one."""
        return self._read_in.get(handle, 0) > number

    def must_begin_anew(self) -> bool:
        """Whether frames or conventions were noted to change while a batch is open: half of it would not
        fit."""
        return self._batch is not None and self._log.holds(Change.HEADER)

    def _read_parts(self, batch: Batch, notes: Notes) -> None:
        """What stands above the objects. Of a whole shot all of it must be there; of a change each part for
        itself."""
        if Change.HEADER in notes.parts:
            self._try(Notes(parts={Change.HEADER}, cameras=notes.cameras),
                      lambda: self._read_header(batch, notes))
        else:
            self._try(Notes(cameras=notes.cameras), lambda: self._read_cameras(batch, notes))
            if Change.DIRECTIVES in notes.parts and batch.header is None:
                self._try(Notes(parts={Change.DIRECTIVES}), lambda: self._read_directives(batch))
        if Change.OPTIONS in notes.parts:
            self._try(Notes(parts={Change.OPTIONS}), lambda: self._read_options(batch))
        if Change.FRAME in notes.parts:
            self._try(Notes(parts={Change.FRAME}), lambda: self._read_frame(batch))

    def _try(self, what: Notes, read: Callable[[], None]) -> None:
        try:
            read()
        except Exception as error:  # pylint: disable=broad-except
            if self._reading.everything:
                raise
            self.diverged.add(what)
            self._fault(error, tuple(what.cameras))

    def _read_directives(self, batch: Batch) -> None:
        batch.directives = [self.converter.directive(ruling) for ruling in self._host.directives()]

    def _read_options(self, batch: Batch) -> None:
        batch.options = self.converter.options(self._host.options())

    def _read_frame(self, batch: Batch) -> None:
        frame = self._host.current_frame()
        first = self.converter.conventions.first_frame
        batch.current_frame = self.converter.to_wire_frame(first if frame is None else frame)

    def _read_header(self, batch: Batch, notes: Notes) -> None:
        header = self._host.header()
        cameras = [
            self.converter.camera(camera, self.camera_ids.id_of(camera.handle, camera.name),
                                  header.frame_count) for camera in self._host.cameras()
        ]
        directives = [self.converter.directive(ruling) for ruling in self._host.directives()]
        batch.header = self.converter.header(header, cameras, directives)
        self._frame_count = header.frame_count
        frames = (self.converter.to_wire_frame(self.converter.conventions.first_frame), header.frame_count)
        if frames != self._frames:
            # Tracks as long as the shot was are not as long as it is.
            for handle in self._moving:
                notes.objects.setdefault(handle, True)
            self._frames = frames

    def _read_cameras(self, batch: Batch, notes: Notes) -> None:
        if not notes.cameras:
            return
        known = {camera.handle: camera for camera in self._host.cameras()}
        if not all(handle in known and self.camera_ids.known_id(handle) for handle in notes.cameras):
            notes.parts.add(Change.HEADER)  # one is new or gone: only a header says which there are
            self._read_header(batch, notes)
            return
        for handle in notes.cameras:
            camera = known[handle]
            camera_id = self.camera_ids.id_of(handle, camera.name)
            batch.cameras[camera_id] = self.converter.camera(camera, camera_id, self._frame_count)

    def _read(self, handle: Handle, batch: Batch) -> None:
        try:
            self._read_in[handle] = batch.number
            # A host may tell of a removal before it has made it.
            thing = self._host.read_object(handle) if self._reading.objects.get(handle, True) else None
            if thing is None:
                self._read_gone(handle, batch)
                return
            if self.ids.name_of(handle) != thing.name:
                self.renamed.add(handle)
            object_id = self.ids.id_of(handle, thing.name)
            batch.objects[object_id] = self.converter.object(thing, self._frame_count)
            batch.removed.discard(object_id)
            if len(thing.transforms) > 1:
                self._moving.add(handle)
            else:
                self._moving.discard(handle)
        except Exception as error:  # pylint: disable=broad-except
            self.diverged.objects[handle] = True
            self._fault(error, (handle,))

    def _read_gone(self, handle: Handle, batch: Batch) -> None:
        self._moving.discard(handle)
        object_id = self.ids.known_id(handle)
        if object_id is not None:
            batch.objects.pop(object_id, None)
            batch.removed.add(object_id)

    def _id_of(self, handle: Handle, where: str) -> str:
        known = self.ids.known_id(handle)
        if known is not None:
            return known
        thing = self._host.read_object(handle)
        if thing is None:
            raise HostDataError(f"{where}: got handle {handle!r}, want one of the host's objects")
        return self.ids.id_of(handle, thing.name)
