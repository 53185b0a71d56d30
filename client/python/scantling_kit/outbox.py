"""What waits for the host to pump: one merged update, and little else. Nothing here queues up while the host
is busy.

Merging: a later decision of an object stands over an earlier one, a later summary over an earlier one; gone
is gone until decided again; `anew` forgets what waited. A settled or final update overtakes the first looks
that waited.
"""

import threading
from concurrent.futures import Future
from dataclasses import dataclass, field
from typing import Any, Dict, List, Optional, Set, Tuple

from .host import Fields
from .results import Connection, PlanState
from .session import Remains


@dataclass
class MergedUpdate:
    """Whole updates, merged, as plain fields by object id."""

    state: PlanState = PlanState.NONE
    revision: int = 0
    answered_batch: int = 0
    anew: bool = False
    decisions: Dict[str, Fields] = field(default_factory=dict)
    gone: Set[str] = field(default_factory=set)
    quick: Dict[str, Fields] = field(default_factory=dict)
    summary: Optional[Fields] = None
    baseline: Optional[Fields] = None
    problem: Optional[Fields] = None
    anim_hours: float = 0.0
    core_hours: float = 0.0

    def merge(self, update: Fields, answered_batch: int, anew: bool) -> None:
        """Takes in a whole later update (its parts joined)."""
        state = PlanState[update.get("state", "PROVISIONAL")]
        self.state, self.revision, self.answered_batch = state, update.get("revision", 0), answered_batch
        self.anim_hours, self.core_hours = update.get("anim_hours", 0.0), update.get("core_hours", 0.0)
        if state is PlanState.PROVISIONAL:
            for fields in update.get("quick", ()):
                self.quick[fields.get("object_id", "")] = fields
            return
        self.quick.clear()
        if anew:
            self.anew = True
            self.decisions.clear()
            self.gone.clear()
        for object_id in update.get("gone_ids", ()):
            self.decisions.pop(object_id, None)
            self.gone.add(object_id)
        for fields in update.get("decisions", ()):
            object_id = fields.get("object_id", "")
            self.decisions[object_id] = fields
            self.gone.discard(object_id)
        self.problem = update.get("problem")
        if "summary" in update:
            self.summary = update["summary"]
            self.baseline = update.get("baseline")


class PartJoiner:
    """Joins the messages of an update; drops what a broken stream left in the middle."""

    def __init__(self) -> None:
        self._parts: Optional[Fields] = None

    def drop(self) -> None:
        """Forgets an update that will not be completed."""
        self._parts = None

    def add(self, message: Fields) -> Optional[Fields]:
        """The whole update with its last message, else None."""
        if self._parts is None:
            # Lists of its own, for they grow.
            self._parts = {
                name: list(value) if isinstance(value, list) else value for name, value in message.items()
            }
        else:
            parts = self._parts
            for name, value in message.items():
                if isinstance(value, list) and name in parts:
                    parts[name].extend(value)
                else:
                    parts[name] = value
        if message.get("continues", False):
            return None
        whole, self._parts = self._parts, None
        return whole


@dataclass
class RefusalNote:
    """A refusal on its way to the host: whose fields its faults name, by path."""

    what: str
    revision: int
    status: Fields
    named: Dict[str, Tuple[str, str]]
    remains: Remains


@dataclass
class Delivery:
    """Everything one pump takes."""

    update: Optional[MergedUpdate] = None
    answered_batch: Optional[int] = None  # said without an update: a batch that changed nothing
    refusals: List[RefusalNote] = field(default_factory=list)
    connection: List[Tuple[Connection, str]] = field(default_factory=list)
    progress: Optional[Fields] = None
    # A future with what becomes of it: plain fields, or an exception.
    answers: List[Tuple["Future[Any]", str, Any]] = field(default_factory=list)


class Outbox:
    """Between worker and host. Thread-safe; the lock is never held while anything else happens."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._delivery = Delivery()
        self._filled = False

    def take(self) -> Delivery:
        """All there is; empties it."""
        with self._lock:
            delivery, self._delivery = self._delivery, Delivery()
            self._filled = False
        return delivery

    @property
    def filled(self) -> bool:
        """Whether there is anything to take."""
        return self._filled

    def update(self, update: Fields, answered_batch: int, anew: bool) -> None:
        """Merges a whole update."""
        with self._lock:
            if self._delivery.update is None:
                self._delivery.update = MergedUpdate()
            self._delivery.update.merge(update, answered_batch, anew)
            self._delivery.answered_batch = None
            self._delivery.progress = None
            self._filled = True

    def answered(self, batch: int) -> None:
        """Everything up to that batch is answered, for there was nothing in it to send."""
        with self._lock:
            self._delivery.answered_batch = batch
            self._filled = True

    def refusal(self, note: RefusalNote) -> None:
        """Adds a refusal. As many wait as edits, what-ifs and baselines were refused since the last pump."""
        with self._lock:
            self._delivery.refusals.append(note)
            self._filled = True

    def connection(self, state: Connection, text: str) -> None:
        """Tells a change of the connection; of a state told twice in a row the later text counts."""
        with self._lock:
            waiting = self._delivery.connection
            if len(waiting) > 1 and waiting[-1][0] is state:
                waiting.pop()
            # A host that does not pump needs the way in, not every attempt: the last few.
            del waiting[:-8]
            waiting.append((state, text))
            self._filled = True

    def progress(self, fields: Fields) -> None:
        """The last word on progress counts."""
        with self._lock:
            self._delivery.progress = fields
            self._filled = True

    def answer(self, future: "Future[Any]", kind: str, outcome: Any) -> None:
        """Adds what a future is to become."""
        with self._lock:
            self._delivery.answers.append((future, kind, outcome))
            self._filled = True
