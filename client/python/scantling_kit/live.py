"""A shot that is being assembled in a host, kept planned by the daemon. What plugins call.

Everything of LiveShot is called on the host's thread, and nothing of it waits for the daemon or the helper.
"""

import math
import time
from collections import deque
from concurrent.futures import Future
from dataclasses import dataclass, replace
from functools import partial
from typing import (Any, Callable, Deque, Dict, Iterable, Iterator, List, Mapping, Optional, Sequence, Set,
                    Tuple)

from .changes import BatchReader, ChangeLog, Notes
from .host import Directive, Fields, Handle, Host, HostCamera, HostObject, Options
from .outbox import Delivery, MergedUpdate, Outbox, RefusalNote
from .process import HelperOptions
from .results import (Connection, Decision, PlanState, PlanUpdate, Progress, QuickDecision, Refusal,
                      SavedPlan, Status, Teller, Totals, WhatIfResult, baseline_of, status_of, totals_of)
from .session import Remains
from .worker import Worker


@dataclass(frozen=True)
class Callbacks:
    """What the host wants to hear; called on the host's thread, from pump(). Each may be left out."""

    on_update: Optional[Callable[[PlanUpdate], None]] = None
    on_refusal: Optional[Callable[[Refusal], None]] = None
    on_connection: Optional[Callable[[Connection, str], None]] = None
    on_progress: Optional[Callable[[Progress], None]] = None


@dataclass(frozen=True)
class LiveOptions:
    """How a LiveShot works.

    batches_per_second    edits sent at most; what changes in between is merged
    slice_ms              about how long one pump may take in decisions, and read the host
    call_on_host_thread   runs a function on the host's thread, soon ("call later on main thread"), without
                          waiting for it; None: the host calls pump() by itself, from a timer or its own loop
    clock                 seconds that never go back
    """

    batches_per_second: float = 20.0
    slice_ms: float = 4.0
    call_on_host_thread: Optional[Callable[[Callable[[], None]], None]] = None
    clock: Callable[[], float] = time.monotonic


class LiveShot:
    """One shot of a host, live. `decisions`, `quick`, `totals` and `state` hold what is known after the last
    pump."""

    def __init__(self, host: Host, address: str, callbacks: Callbacks = Callbacks(),
                 options: LiveOptions = LiveOptions(), helper: HelperOptions = HelperOptions()) -> None:
        """Starts the background thread; the shot is read in the pumps that follow. address: "unix:PATH" or
        "HOST:PORT".

        Raises what host.conventions() raises, and HostDataError where they cannot be.
        """
        self.decisions: Dict[Handle, Decision] = {}
        self.quick: Dict[Handle, QuickDecision] = {}
        self.totals: Optional[Totals] = None
        self.state = PlanState.NONE
        self.connection = Connection.WAITING
        self._host = host
        self._callbacks = callbacks
        self._options = options
        self._outbox = Outbox()
        wake = None
        if options.call_on_host_thread is not None:
            call_later = options.call_on_host_thread
            wake = lambda: call_later(self._pump_if_open)  # noqa: E731
        self._worker = Worker(address, helper, self._outbox, wake, 1.0 / options.batches_per_second)
        self._log = ChangeLog(self._worker.noted)
        self._reader = BatchReader(host, self._log, options.clock, self._host_fault)
        self._teller = Teller(self._reader.ids, lambda frame: self._reader.converter.to_host_frame(frame))
        self._next_batch = 0.0
        self._epoch_read = 0
        self._answered_batch = 0
        self._problem = False
        self._to_tell: "Deque[Callable[[float], bool]]" = deque()
        self._what_ifs: "Deque[Tuple[int, Fields, Future[WhatIfResult]]]" = deque()
        self._closed = False
        self._pumping = False
        self._handed_over = 0  # number of the last batch that was
        host.listen(self._log)
        self._worker.start()

    # Every moment.

    def pump(self) -> None:
        """Delivers what came and reads on in what changed. Call it often; it returns after about slice_ms.

        What a callback raises comes out of here, once everything else is delivered; nothing is read then.
        """
        if self._pumping:
            return  # from a callback
        self._pumping = True
        try:
            end = self._options.clock() + self._options.slice_ms / 1000
            if not self._to_tell:
                self._receive(self._outbox.take())
            self._tell_on(end)
            if self._to_tell:
                self._worker.noted()  # wakes a host that waits to be called
            elif not self._closed:
                self._read()
        finally:
            self._pumping = False

    def _pump_if_open(self) -> None:
        if not self._closed:
            self.pump()

    def _read(self) -> None:
        worker, reader = self._worker, self._reader
        now = self._options.clock()
        if not reader.reading or reader.must_begin_anew():
            everything = worker.wants_everything and self._epoch_read != worker.epoch
            held_back = worker.waits_for_note or reader.diverged.everything
            # One batch at a time: while the worker waits for a pipe, changes merge here.
            noted = bool(self._log) and worker.taken >= self._handed_over
            due = (everything and (noted or not held_back)) or (worker.wants_changes and noted)
            if due and (reader.reading or now >= self._next_batch):
                reader.begin(worker.epoch, everything or self._epoch_read != worker.epoch)
        batch = reader.read_on(self._options.slice_ms / 1000)
        self._rename()
        if batch is not None:
            if batch.everything:
                self._epoch_read = batch.epoch
            self._next_batch = now + 1.0 / self._options.batches_per_second
            self._handed_over = batch.number
            worker.hand_over(batch)
        self._hand_over_what_ifs(every=False)
        if reader.reading or self._log:
            worker.noted()

    def _rename(self) -> None:
        """What is known goes by present names too, though a new name alone is no news to the daemon."""
        renamed, self._reader.renamed = self._reader.renamed, set()
        for handle in renamed & self.decisions.keys():
            self.decisions[handle] = replace(self.decisions[handle], name=self._reader.ids.name_of(handle))

    # Asking.

    def what_if(self, objects: Sequence[HostObject] = (), removed: Iterable[Handle] = (),
                cameras: Sequence[HostCamera] = (), directives: Optional[Sequence[Directive]] = None,
                options: Optional[Options] = None) -> "Future[WhatIfResult]":
        """What these changes would do, on top of everything noted before; the session is not touched.

        The future is done in a later pump, on the host's thread; its exception is CallFailed, with the
        daemon's faults. Do not wait for it on the host's thread without pumping. Raises HostDataError for
        what cannot be said.
        """
        convert, ids, camera_ids = self._reader.converter, self._reader.ids, self._reader.camera_ids
        frames = self._reader.frame_count
        for thing in objects:
            ids.id_of(thing.handle, ids.name_of(thing.handle) or thing.name)
        edit: Fields = {
            "objects": [convert.object(thing, frames) for thing in objects],
            "removed_ids": [known for known in map(ids.known_id, removed) if known is not None],
            "cameras": [convert.camera(camera, camera_ids.id_of(camera.handle, camera.name), frames)
                        for camera in cameras]
        }
        if directives is not None:
            edit["directives"] = {"directives": [convert.directive(ruling) for ruling in directives]}
        if options is not None:
            edit["options"] = convert.options(options)
            edit["keep_earlier"] = not options.earlier
        future = _running()
        # Behind the batch that takes in what was noted so far.
        behind = self._reader.last_number + bool(self._log)
        self._what_ifs.append((behind, edit, future))
        return future

    def _hand_over_what_ifs(self, every: bool) -> None:
        number, reading = self._reader.last_number, self._reader.reading
        while self._what_ifs:
            behind, edit, future = self._what_ifs[0]
            if not every and (number < behind or (number == behind and reading)):
                return
            self._what_ifs.popleft()
            self._worker.ask(edit, future)

    def set_baseline(self, label: str, totals: Optional[Totals] = None) -> None:
        """From now on updates carry the change against these totals; None: those of the last settled or final
        plan."""
        if totals is None:
            self._worker.set_baseline({"label": label, "present": True})
        else:
            self._worker.set_baseline({"label": label, "totals": dict(totals.fields)})

    def clear_baseline(self) -> None:
        """No baseline any more."""
        self._worker.set_baseline({"none": True})

    def plan_file(self, path: str, options: Optional[Options] = None,
                  timeout_s: Optional[float] = None) -> "Future[SavedPlan]":
        """Plans a saved shot (JSON or binary) beside the session; the future is done as what_if()'s is.

        Its options name nothing of this host: leave `earlier` empty.
        """
        frame: Fields = {"shot_file": path, "timeout_s": timeout_s}
        if options is not None:
            frame["options"] = self._reader.converter.options(options)
        future = _running()
        self._worker.plan_file(frame, future)
        return future

    def set_baseline_from_file(self, label: str, path: str,
                               options: Optional[Options] = None) -> "Future[SavedPlan]":
        """Plans a saved shot and takes its totals as baseline once they are there."""
        future = self.plan_file(path, options)

        def take(done: "Future[SavedPlan]") -> None:
            if done.exception() is None:
                self.set_baseline(label, done.result().totals)

        future.add_done_callback(take)
        return future

    # Standing.

    @property
    def publishable(self) -> bool:
        """Whether the plan known here may be published: final, and of everything the host has said."""
        return (self.state is PlanState.FINAL and not self._problem and not self._log and
                not self._reader.reading and not self._reader.diverged and
                self._answered_batch == self._reader.last_number and self._epoch_read == self._worker.epoch)

    @property
    def diverged(self) -> Tuple[Handle, ...]:
        """Objects that the daemon does not have as the host has them, for it refused them (or they could not
        be said). They go along with the host's next change of any of them."""
        return tuple(self._reader.diverged.objects)

    @property
    def anything_diverged(self) -> bool:
        """The same of anything at all: cameras, header, options too."""
        return bool(self._reader.diverged)

    @property
    def helper_pid(self) -> int:
        """The helper's process; 0: none runs."""
        return self._worker.helper_pid

    def id_of(self, handle: Handle) -> Optional[str]:
        """The id under which an object is sent; None: it was not read yet."""
        return self._reader.ids.known_id(handle)

    def resync(self) -> None:
        """Reads and sends the whole shot again, also where the session was taken over or the shot refused."""
        self._worker.begin_anew()
        self._log.note(Notes(everything=True))

    def close(self, keep_session: bool = False, wait_s: Optional[float] = None) -> None:
        """Ends the session and the helper, in the background; wait_s: waits so long for that. Futures that
        are still open fail with CANCELLED, in this call where it waits. keep_session: leaves it to lapse."""
        if not self._closed:
            self._closed = True
            self._host.listen(None)
            self._hand_over_what_ifs(every=True)
            self._worker.close(keep_session)
        if wait_s is not None and self._worker.join(wait_s):
            self._tell_on(math.inf)
            self._receive(self._outbox.take())
            self._tell_on(math.inf)

    # Delivering.

    def _receive(self, delivery: Delivery) -> None:
        """Lines up what is to be told, in order: functions that are called with the end of the slice until
        they answer that they are done."""
        tell = self._to_tell
        tell.extend(_once(self._tell_refusal, note) for note in delivery.refusals)
        tell.extend(_once(self._tell_connection, state, text) for state, text in delivery.connection)
        if delivery.update is not None:
            fields_left = iter(list(delivery.update.decisions.values()))
            tell.append(partial(self._tell_update, delivery.update, fields_left, []))
        if delivery.answered_batch is not None:
            tell.append(_once(self._tell_answered, delivery.answered_batch))
        if delivery.progress is not None:
            tell.append(_once(self._tell_progress, delivery.progress))
        tell.extend(_once(self._resolve, *answer) for answer in delivery.answers)

    def _tell_on(self, end: float) -> None:
        """Tells what is lined up until `end`; the rest stays for the next pump. Where a callback raises, the
        rest is told all the same, and the first such error is raised at the end."""
        error: Optional[Exception] = None
        while self._to_tell:
            try:
                if not self._to_tell[0](end):
                    break
            except Exception as raised:  # pylint: disable=broad-except
                error = error or raised
            self._to_tell.popleft()
        if error is not None:
            raise error

    def _tell_answered(self, batch: int) -> None:
        self._answered_batch = batch

    def _tell_connection(self, state: Connection, text: str) -> None:
        self.connection = state
        if self._callbacks.on_connection is not None:
            self._callbacks.on_connection(state, text)

    def _tell_progress(self, fields: Fields) -> None:
        if self._callbacks.on_progress is not None:
            self._callbacks.on_progress(Progress(fields.get("revision", 0), fields.get("stage", ""),
                                                 fields.get("fraction", 0.0)))

    def _tell_update(self, merged: MergedUpdate, fields_left: Iterator[Fields], told: List[Decision],
                     end: float) -> bool:
        """Makes decisions of their fields until `end`; with the last of them the update is taken in and told
        at once."""
        for fields in fields_left:
            told.append(self._teller.decision(fields))
            if self._options.clock() >= end:
                return False
        self._take_in(merged, tuple(told))
        return True

    def _take_in(self, merged: MergedUpdate, changed: Tuple[Decision, ...]) -> None:
        if merged.anew:
            self.decisions.clear()
        gone = self._teller.handles(sorted(merged.gone))
        for handle in gone:
            self.decisions.pop(handle, None)
        self.decisions.update((decision.handle, decision) for decision in changed)
        if merged.state is not PlanState.PROVISIONAL:
            self.quick.clear()
        quick = tuple(self._teller.quick(fields) for fields in merged.quick.values())
        self.quick.update((decision.handle, decision) for decision in quick)
        if merged.summary is not None:
            self.totals = totals_of(merged.summary)
        self.state = merged.state
        self._problem = merged.problem is not None
        self._answered_batch = merged.answered_batch
        if self._callbacks.on_update is not None:
            problem = None if merged.problem is None else status_of(merged.problem)
            self._callbacks.on_update(
                PlanUpdate(merged.state, merged.revision, merged.anew, changed, gone, quick, self.totals,
                           baseline_of(merged.baseline), problem, merged.anim_hours, merged.core_hours,
                           self.publishable))

    def _tell_refusal(self, note: RefusalNote) -> None:
        self._read_again(note.remains)
        if note.what == "shot":
            self._reader.diverged.everything = True
        handles = self._teller.handles(sorted(note.remains.diverged)) + tuple(
            handle for handle in map(self._reader.camera_ids.handle_of, sorted(note.remains.diverged_cameras))
            if handle is not None)
        if self._callbacks.on_refusal is not None:
            status = status_of(note.status, lambda path: self._handle_named(note.named.get(path, ("", ""))))
            self._callbacks.on_refusal(Refusal(note.what, status, note.revision, handles))

    def _handle_named(self, named: Tuple[str, str]) -> Optional[Handle]:
        kind, found = named
        ids = {"object": self._reader.ids, "camera": self._reader.camera_ids}.get(kind)
        return None if ids is None else ids.handle_of(found)

    def _read_again(self, remains: Remains) -> None:
        """Notes what is to be sent again, and keeps what has diverged, but for what was read since."""
        reader = self._reader

        def current(ids: Iterable[str]) -> Dict[Handle, bool]:
            handles = [reader.ids.handle_of(object_id) for object_id in sorted(ids)]
            return {handle: True for handle in handles
                    if handle is not None and not reader.read_since(handle, remains.batch)}

        def cameras(ids: Iterable[str]) -> Set[Handle]:
            return {handle for handle in map(reader.camera_ids.handle_of, ids) if handle is not None}

        reader.diverged.add(Notes(False, current(remains.diverged), set(remains.diverged_parts),
                                  cameras(remains.diverged_cameras)))
        again = Notes(False, current(remains.again), set(remains.again_parts), cameras(remains.again_cameras))
        if again:
            self._log.note(again)

    def _host_fault(self, error: Exception, handles: Tuple[Handle, ...]) -> None:
        """The host could not be read, or what it said cannot be sent."""
        if self._callbacks.on_refusal is not None:
            status = Status("INVALID_ARGUMENT", f"{type(error).__name__}: {error}", "HOST_DATA")
            self._callbacks.on_refusal(Refusal("host", status, 0, handles))

    def _resolve(self, future: "Future[Any]", kind: str, outcome: Any) -> None:
        if kind == "failed":
            future.set_exception(outcome)
        elif kind == "plan":
            future.set_result(_saved_plan(outcome))
        else:
            problem = None if "problem" not in outcome else status_of(outcome["problem"])
            totals = totals_of(outcome["summary"]) if "summary" in outcome else None
            future.set_result(WhatIfResult(
                outcome.get("revision", 0), totals,
                tuple(self._teller.decision(fields) for fields in outcome.get("decisions", ())),
                outcome.get("changed", 0), self._teller.handles(outcome.get("gone_ids", ())),
                baseline_of(outcome.get("baseline")), problem))


def _once(tell: Callable[..., None], *what: Any) -> Callable[[float], bool]:
    def told(_end: float) -> bool:
        tell(*what)
        return True

    return told


def _running() -> "Future[Any]":
    """A future that can no longer be cancelled: the question is on its way."""
    future: "Future[Any]" = Future()
    future.set_running_or_notify_cancel()
    return future


def _saved_plan(plan: Mapping[str, Any]) -> SavedPlan:
    tiers = {fields.get("object_id", ""): fields.get("tier", "") for fields in plan.get("decisions", ())}
    return SavedPlan(plan.get("shot_id", ""), totals_of(plan), tiers, dict(plan))
