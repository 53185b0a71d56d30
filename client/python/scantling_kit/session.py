"""What a session is, without threads or pipes: what was sent, what of it was taken in, what must be sent
again.

    batches --take()--> edits in flight --answers--> gone
                          |  refused: innocent parts are asked for again, faulty ones have diverged
                          |  stream lost: sent again after Resume, from Started.revision on
                          `- session lost: dropped; everything is asked for anew (a new epoch)

An edit counts as taken in once an update answers its revision, or a later one. Edits that were in flight when
the stream broke and that the daemon had then already dealt with are not sent again, but stay in flight: on
resume it tells refusals again, before any update.

Used by the worker's thread only.
"""

import re
from dataclasses import dataclass, field
from typing import Deque, FrozenSet, Iterator, List, Optional, Set, Tuple
from collections import deque

from .changes import Batch
from .host import Change, Fields

MOST_IN_FLIGHT = 4
"""Edits sent and not yet answered. With more waiting, what changes meanwhile merges into the next: the daemon
would pass over them anyway."""

_MOST_PART_DOUBLES = 60_000  # some half a megabyte a message
_MOST_PART_OBJECTS = 250  # while a frame's JSON is written, the host's interpreter does nothing else
_INDEX = re.compile(r"^(objects|removed_ids|cameras)\[(\d+)\]")
_PART = re.compile(r"^(options|keep_earlier|current_frame|directives)\b")
_PART_OF = {"header": Change.HEADER, "cameras": Change.HEADER, "directives": Change.DIRECTIVES,
            "options": Change.OPTIONS, "keep_earlier": Change.OPTIONS, "current_frame": Change.FRAME}


@dataclass
class Edit:
    """One revision, as it was sent."""

    revision: int
    batch: int
    objects: List[str]
    removed: List[str]
    cameras: List[str]
    parts: FrozenSet[Change]
    messages: List[Fields]
    camera_order: List[str]  # of the whole shot with this edit: faults count cameras there


@dataclass
class Remains:
    """What a refusal or a loss leaves: to be read again at once, or with the host's next change of it. By
    id."""

    again: Set[str] = field(default_factory=set)
    again_cameras: Set[str] = field(default_factory=set)
    again_parts: Set[Change] = field(default_factory=set)
    diverged: Set[str] = field(default_factory=set)
    diverged_cameras: Set[str] = field(default_factory=set)
    diverged_parts: Set[Change] = field(default_factory=set)
    batch: int = 0  # the last one taken when this was found


class Session:
    """The life of one session after another. Not thread-safe."""

    def __init__(self) -> None:
        self.epoch = 1              # rises with every session; batches of an older one are void
        self.session_id: Optional[str] = None
        self.last_update = 0        # number of the last update taken in whole
        self.last_batch = 0
        self.in_flight: Deque[Edit] = deque()
        self._begin: Optional[Fields] = None
        self._next_revision = 1
        self._there: Set[str] = set()  # ids of the objects the daemon has
        self._camera_order: List[str] = []

    # Towards the daemon.

    @property
    def ready(self) -> bool:
        """Whether there is something to connect with."""
        return self.session_id is not None or self._begin is not None

    @property
    def wants_changes(self) -> bool:
        """Whether the next batch may come."""
        return self.ready and len(self.in_flight) < MOST_IN_FLIGHT

    def first_message(self) -> Fields:
        """Resume where a session is known, else Begin. Precondition: ready."""
        if self.session_id is not None:
            return {"resume": {"session_id": self.session_id, "update": self.last_update}}
        assert self._begin is not None
        return {"begin": self._begin}

    def take(self, batch: Batch) -> Optional[Edit]:
        """Makes an edit of a batch; None where nothing of it need be sent as one. Void batches are
        dropped."""
        if batch.epoch != self.epoch:
            return None
        self.last_batch = max(self.last_batch, batch.number)
        beginning = False
        if batch.header is not None:
            self._camera_order = [camera["id"] for camera in batch.header.get("cameras", ())]
        if batch.everything and self.session_id is None:
            beginning = True
            self._start_anew(batch)
            batch = Batch(batch.number, batch.epoch, False, objects=batch.objects)
        expected = self._expected()
        if batch.everything:
            batch.removed |= expected - batch.objects.keys()
        removed = sorted(batch.removed & expected)
        above = {name: value for name, value in (
            ("header", batch.header), ("cameras", list(batch.cameras.values())), ("options", batch.options),
            ("current_frame", batch.current_frame)) if value not in (None, [])}
        if batch.directives is not None:
            above["directives"] = {"directives": batch.directives}
        if not (above or batch.objects or removed or beginning):
            return None  # a beginning has its first edit even without objects: with it the shot is planned
        parts = frozenset(_PART_OF[name] for name in above if name != "cameras")
        edit = Edit(self._next_revision, batch.number, list(batch.objects), removed, list(batch.cameras),
                    parts, list(_messages(self._next_revision, above, list(batch.objects.values()), removed)),
                    list(self._camera_order))
        self._next_revision += 1
        self.in_flight.append(edit)
        return edit

    def _start_anew(self, batch: Batch) -> None:
        self._begin = {"header": batch.header, "options": batch.options or {}}
        if batch.current_frame is not None:
            self._begin["current_frame"] = batch.current_frame
        self.in_flight.clear()
        self._next_revision = 1
        self._there.clear()

    def _expected(self) -> Set[str]:
        """Ids the daemon has once everything in flight is taken in."""
        ids = set(self._there)
        for edit in self.in_flight:
            ids.update(edit.objects)
            ids.difference_update(edit.removed)
        return ids

    # From the daemon.

    def started(self, fields: Fields) -> List[Edit]:
        """The edits to send (again)."""
        self.session_id = fields.get("session_id", "")
        if not fields.get("resumed", False):
            self.last_update = 0
            return list(self.in_flight)
        return [edit for edit in self.in_flight if edit.revision > fields.get("revision", 0)]

    def updated(self, revision: int, number: int) -> None:
        """An update was taken in whole: it answers everything up to that revision."""
        while self.in_flight and self.in_flight[0].revision <= revision:
            edit = self.in_flight.popleft()
            self._there.difference_update(edit.removed)
            self._there.update(edit.objects)
        if number:
            self.last_update = number

    @property
    def answered_batch(self) -> int:
        """The last batch that is answered, with all before it."""
        return self.in_flight[0].batch - 1 if self.in_flight else self.last_batch

    def refused(self, revision: int, fields: List[str]) -> Tuple[Optional[Edit], Remains]:
        """An edit was refused, with faults in these fields; None: one that is not in flight (any more).

        Things that no fault names are innocent and are asked for again at once; where no fault names anything
        in particular, nothing is: all of it has diverged. Each retry is smaller, so this ends.
        """
        remains = Remains(batch=self.last_batch)
        edit = next((edit for edit in self.in_flight if edit.revision == revision), None)
        if edit is None:
            return None, remains
        self.in_flight.remove(edit)
        faulty, faulty_cameras, faulty_parts = self._named(edit, fields)
        objects, cameras, parts = set(edit.objects + edit.removed), set(edit.cameras), set(edit.parts)
        if not (faulty or faulty_cameras or faulty_parts):
            faulty, faulty_cameras, faulty_parts = set(objects), set(cameras), set(parts)
        # What was to be removed and is not there is as the host has it.
        absent = set(edit.removed) - self._there
        faulty -= absent
        for later in (other for other in self.in_flight if other.revision > revision):
            objects.difference_update(later.objects, later.removed)
            faulty.difference_update(later.objects, later.removed)
        remains.diverged = faulty
        remains.diverged_cameras = faulty_cameras
        remains.diverged_parts = faulty_parts
        remains.again = objects - faulty - absent
        remains.again_cameras = cameras - faulty_cameras
        remains.again_parts = parts - faulty_parts
        return edit, remains

    @staticmethod
    def _named(edit: Edit, fields: List[str]) -> Tuple[Set[str], Set[str], Set[Change]]:
        """Objects, cameras and parts of the edit that the faults are about."""
        objects: Set[str] = set()
        cameras: Set[str] = set()
        parts: Set[Change] = set()
        for path in fields:
            kind, found = named_in(edit, path)
            part = _PART.match(path)
            if kind == "object":
                objects.add(found)
            elif kind == "camera" and found in edit.cameras:
                cameras.add(found)
            elif part is not None and _PART_OF[part.group(1)] in edit.parts:
                parts.add(_PART_OF[part.group(1)])
            elif Change.HEADER in edit.parts:
                parts.add(Change.HEADER)
            else:
                # What stood in the header before names what is removed now.
                objects.update(edit.removed)
        return objects, cameras, parts

    def lose(self) -> None:
        """The session is no more: a whole state is wanted, in a new epoch."""
        self.epoch += 1
        self.session_id = None
        self._begin = None
        self.last_update = 0
        self.in_flight.clear()
        self._there.clear()


def named_in(edit: Edit, path: str) -> Tuple[str, str]:
    """What a fault's path names: ("object" | "camera", id), or ("", "") for nothing of its own. Objects and
    removals are counted in the edit, cameras in the whole shot."""
    match = _INDEX.match(path)
    if match is None:
        return "", ""
    ids = {"objects": edit.objects, "removed_ids": edit.removed, "cameras": edit.camera_order}[match.group(1)]
    index = int(match.group(2))
    if index >= len(ids):
        return "", ""
    return ("camera" if match.group(1) == "cameras" else "object"), ids[index]


def _messages(revision: int, above: Fields, objects: List[Fields], removed: List[str]) -> Iterator[Fields]:
    """An edit in parts of moderate size. What stands above the objects, and removals, come with the first."""
    parts: List[List[Fields]] = [[]]
    doubles = 0
    for thing in objects:
        size = len(thing["transform"]["matrices"])
        if parts[-1] and (doubles + size > _MOST_PART_DOUBLES or len(parts[-1]) >= _MOST_PART_OBJECTS):
            parts.append([])
            doubles = 0
        parts[-1].append(thing)
        doubles += size
    for index, part in enumerate(parts):
        fields: Fields = dict(above, removed_ids=removed) if index == 0 else {}
        fields["revision"] = revision
        fields["continues"] = index + 1 < len(parts)
        fields["objects"] = part
        yield {"edit": fields}
