"""What comes back, in the host's terms: handles, present names, the host's frame numbers.

Each class has the figures a plugin shows, and in `fields` the whole message as it came (names as in
plan.proto, with frames as they were sent).
"""

import enum
import json
from dataclasses import dataclass, field
from typing import Any, Callable, Dict, Mapping, Optional, Sequence, Tuple

from .host import Fields, Handle, Span
from .identity import IdRegistry


class PlanState(enum.Enum):
    """How far the last answer goes. Only FINAL may be published."""

    NONE = "none"                # no answer yet
    PROVISIONAL = "provisional"  # a first look at what was edited
    SETTLED = "settled"          # all of the shot measured; a budget met from what was known before
    FINAL = "final"              # as PlanShot would answer


class Connection(enum.Enum):
    """How things stand between kit and daemon."""

    WAITING = "waiting for the shot to be read"
    CONNECTING = "connecting"
    LIVE = "live"
    LOST = "lost; trying again"
    TAKEN_OVER = "the session was taken over; resync() begins anew"
    FAULTY = "the shot was refused; its next change, or resync(), begins anew"
    CLOSED = "closed"


@dataclass(frozen=True)
class Fault:
    """One fault of a refusal: the field's path, what was got and wanted, and whose field it is, where it is
    known."""

    field: str
    description: str
    handle: Optional[Handle] = None


@dataclass(frozen=True)
class Status:
    """Why there is no plan, or why something was refused. Codes are those of gRPC, reasons those of the
    daemon."""

    code: str
    text: str
    reason: str = ""
    faults: Tuple[Fault, ...] = ()
    metadata: Mapping[str, str] = field(default_factory=dict)
    preconditions: Tuple[Mapping[str, str], ...] = ()


@dataclass(frozen=True)
class Refusal:
    """Something the daemon did not take in.

    what      "edit", "shot" (the header a session was to begin with), "what-if", "baseline", or "host": what
              the host handed over could not be said at all.
    handles   objects (and cameras) that the daemon now has otherwise than the host. They are sent again with
              the host's next change of any of them, or by resync().
    """

    what: str
    status: Status
    revision: int = 0
    handles: Tuple[Handle, ...] = ()


@dataclass(frozen=True)
class Decision:
    """What becomes of one object. Spans in the host's frame numbers."""

    handle: Handle
    name: str
    object_id: str
    tier: str
    reason: str
    reason_text: str
    needs_animation: bool
    hold: int
    seen: Tuple[Span, ...]
    animated: Tuple[Span, ...]
    height_px: float
    anim_hours: float
    core_hours: float
    loss: float
    json: str  # the whole message; `fields` reads it

    @property
    def fields(self) -> Fields:
        """The whole decision as it came, frames as they were sent. Read anew each time."""
        read: Fields = json.loads(self.json)
        return read


@dataclass(frozen=True)
class QuickDecision:
    """A first look at one object. basis: "WHOLE_SHOT" or "CURRENT_FRAME"."""

    handle: Handle
    name: str
    object_id: str
    tier: str
    basis: str
    seen: bool


@dataclass(frozen=True)
class Totals:
    """Counts and estimates of a plan; hours are means, their spread is in `fields`."""

    objects: int
    full_rig: int
    proxy: int
    colour_patch: int
    omitted: int
    needs_animation: int
    anim_hours: float
    core_hours: float
    loss: float
    gap: float
    proved_optimal: bool
    fields: Fields


@dataclass(frozen=True)
class BaselineChange:
    """The plan's totals less the baseline's."""

    label: str
    anim_hours: float
    core_hours: float
    other_hours: float
    loss: float
    objects: int
    needs_animation: int
    fields: Fields


@dataclass(frozen=True)
class PlanUpdate:
    """What changed since the update before. Several that came between two pumps are one.

    changed    decisions that are new or other than before;  gone  objects that are not in the shot any more
    quick      first looks that no settled plan has overtaken yet
    totals     of the last settled or final plan;  problem  why there is none of this revision
    anim_hours, core_hours   estimates with the first looks in place, while provisional
    publishable   the plan is final and answers everything the host has said
    """

    state: PlanState
    revision: int
    anew: bool
    changed: Tuple[Decision, ...]
    gone: Tuple[Handle, ...]
    quick: Tuple[QuickDecision, ...]
    totals: Optional[Totals]
    baseline: Optional[BaselineChange]
    problem: Optional[Status]
    anim_hours: float
    core_hours: float
    publishable: bool


@dataclass(frozen=True)
class Progress:
    """How far the daemon is: stage "measuring", "choosing" or "answering", fraction of it."""

    revision: int
    stage: str
    fraction: float


@dataclass(frozen=True)
class WhatIfResult:
    """What an edit would do. decisions: the first 2,000 of `changed_count` that would change."""

    revision: int
    totals: Optional[Totals]
    decisions: Tuple[Decision, ...]
    changed_count: int
    gone: Tuple[Handle, ...]
    baseline: Optional[BaselineChange]
    problem: Optional[Status]


@dataclass(frozen=True)
class SavedPlan:
    """The plan of a saved shot file: its totals, and tiers by object id."""

    shot_id: str
    totals: Totals
    tiers: Mapping[str, str]
    fields: Fields


class CallFailed(Exception):
    """A what-if or a plan of a file came to nothing; `status` says why."""

    def __init__(self, status: Status) -> None:
        super().__init__(f"{status.code}: {status.text}")
        self.status = status


class Teller:
    """Makes these of plain fields, on the host's thread. Objects nobody knows (they cannot be ours) go by
    their id."""

    def __init__(self, ids: IdRegistry, to_host_frame: Callable[[int], int]) -> None:
        self._ids = ids
        self._to_host_frame = to_host_frame

    def handle(self, object_id: str) -> Handle:
        """Whose id it is."""
        found = self._ids.handle_of(object_id)
        return object_id if found is None else found

    def handles(self, object_ids: Sequence[str]) -> Tuple[Handle, ...]:
        """The same for several."""
        return tuple(self.handle(object_id) for object_id in object_ids)

    def _spans(self, ranges: Sequence[Mapping[str, int]]) -> Tuple[Span, ...]:
        move = self._to_host_frame
        return tuple((move(span.get("first", 0)), move(span.get("last", 0))) for span in ranges)

    def decision(self, folded: Mapping[str, str]) -> Decision:
        """One decision, with the name its object has now. folded: its id and its JSON."""
        text = folded["json"]
        fields: Fields = json.loads(text)
        object_id = folded["object_id"]
        handle = self.handle(object_id)
        get = fields.get
        name = self._ids.name_of(handle) or object_id
        return Decision(handle, name, object_id, get("tier", ""), get("reason", ""),
                        get("reason_text", ""), get("needs_animation", False), get("hold", 0),
                        self._spans(get("seen", ())), self._spans(get("animated", ())), get("height_px", 0.0),
                        get("anim_hours", 0.0), get("core_hours", 0.0), get("loss", 0.0), text)

    def quick(self, fields: Fields) -> QuickDecision:
        """One first look."""
        object_id = fields.get("object_id", "")
        handle = self.handle(object_id)
        name = self._ids.name_of(handle) or object_id
        return QuickDecision(handle, name, object_id, fields.get("tier", ""),
                             fields.get("basis", ""), fields.get("seen", False))


def totals_of(summary: Mapping[str, Any]) -> Totals:
    """A plan's totals."""
    fields: Dict[str, Any] = summary.get("totals", {})
    plan = fields.get("plan", {})
    get = fields.get
    return Totals(get("objects", 0), get("full_rig", 0), get("proxy", 0), get("colour_patch", 0),
                  get("omitted", 0), get("needs_animation", 0),
                  plan.get("anim_hours", {}).get("mean", 0.0),
                  plan.get("core_hours", {}).get("mean", 0.0), get("loss", 0.0), get("gap", 0.0),
                  get("proved_optimal", False), fields)


def baseline_of(fields: Optional[Fields]) -> Optional[BaselineChange]:
    """A change against a baseline; None where there is none."""
    if fields is None:
        return None
    get = fields.get
    return BaselineChange(get("label", ""), get("anim_hours", 0.0), get("core_hours", 0.0),
                          get("other_hours", 0.0), get("loss", 0.0), get("objects", 0),
                          get("needs_animation", 0), fields)


def _nobody(path: str) -> Optional[Handle]:
    return None


def status_of(fields: Mapping[str, Any], handle_at: Callable[[str], Optional[Handle]] = _nobody) -> Status:
    """A status with its details. handle_at: whose field a path names."""
    faults = tuple(
        Fault(fault.get("field", ""), fault.get("description", ""), handle_at(fault.get("field", "")))
        for fault in fields.get("faults", ()))
    return Status(fields.get("code", "UNKNOWN"), fields.get("text", ""), fields.get("reason", ""), faults,
                  fields.get("metadata", {}), tuple(fields.get("preconditions", ())))
