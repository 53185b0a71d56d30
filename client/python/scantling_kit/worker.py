"""The background thread: owns the session, the helper process and the pauses between attempts.

It alone may wait: for the helper to start, for a pipe to take bytes. The host's thread puts batches into its
inbox and takes deliveries from the outbox, and never waits for it.

    PAUSED --time--> IDLE --a session or a beginning is there--> CONNECTING --Started--> LIVE
       ^                                                              |                    |
       '------------------- stream or helper lost --------------------+--------------------'
    STOPPED: taken over, or the shot was refused; left by resync() or the host's next change
"""

import enum
import logging
import queue
import threading
import time
from concurrent.futures import Future
from typing import Any, Callable, Dict, List, Optional, Tuple

from .backoff import LIMITS_S, Backoff
from .changes import Batch
from .host import Fields
from .outbox import Outbox, PartJoiner, RefusalNote
from .process import HelperGone, HelperOptions, HelperProcess
from .results import CallFailed, Connection, status_of
from .session import Remains, Session, named_in

_LOG = logging.getLogger("scantling_kit")
_LIMIT_CODES = ("RESOURCE_EXHAUSTED", "UNAUTHENTICATED", "PERMISSION_DENIED", "UNIMPLEMENTED")
_FAULT_CODES = ("INVALID_ARGUMENT", "FAILED_PRECONDITION", "OUT_OF_RANGE")
_MOST_WHAT_IFS = 4  # that wait in the daemon; it refuses more
_CLOSE_PATIENCE_S = 2.0


class _Phase(enum.Enum):
    IDLE = 1
    CONNECTING = 2
    LIVE = 3
    PAUSED = 4
    STOPPED = 5


class Worker:
    """One per LiveShot. The methods named first may be called from any thread; none of them waits."""

    def __init__(self, address: str, helper: HelperOptions, outbox: Outbox,
                 wake: Optional[Callable[[], None]], wake_every_s: float) -> None:
        self._address = address
        self._helper_options = helper
        self._outbox = outbox
        self._wake = wake
        self._wake_every_s = wake_every_s
        self._inbox: "queue.SimpleQueue[Tuple[Callable[..., None], Tuple[Any, ...]]]" = queue.SimpleQueue()
        self._session = Session()
        self._backoff = Backoff()
        self._joiner = PartJoiner()
        self._phase = _Phase.IDLE
        self._retry_at = 0.0
        self._wake_at: Optional[float] = None
        self._last_wake = 0.0
        self._helper: Optional[HelperProcess] = None
        self._generation = 0
        self._stream = 0
        self._fresh = True  # no whole update of this session yet: its first one brings everything
        self._summary: Optional[Fields] = None
        self._baseline: Optional[Fields] = None
        self._what_ifs: Dict[str, Tuple[Fields, "Future[Any]"]] = {}
        self._calls: Dict[int, Tuple[Fields, "Future[Any]"]] = {}
        self._asked = 0
        self._asked_there = 0  # the first so many of the what-ifs were sent on this stream
        self._closing = False
        # What the host's thread looks at. Written here only, each a single assignment.
        self.epoch = self._session.epoch
        self.wants_everything = True
        self.wants_changes = False
        self.waits_for_note = False  # the whole shot was refused: not again before something changed
        self.taken = 0  # number of the last batch that was taken, and sent where there is a stream
        self.helper_pid = 0
        self._note_waits = False
        self._wants_pump = False
        self._thread = threading.Thread(target=self._run, name="scantling worker", daemon=True)

    def start(self) -> None:
        """Starts the thread."""
        self._thread.start()

    def hand_over(self, batch: Batch) -> None:
        """A batch was read."""
        self._inbox.put((self._take, (batch,)))

    def noted(self) -> None:
        """Something changed: wake the host's thread in a while, where it asked for that."""
        if self._wake is not None and not self._note_waits:
            self._note_waits = True
            self._inbox.put((self._noted, ()))

    def ask(self, edit: Fields, future: "Future[Any]") -> None:
        """A what-if."""
        self._inbox.put((self._ask, (edit, future)))

    def set_baseline(self, baseline: Fields) -> None:
        """A Baseline message; with `present`, the totals of the last plan are put in."""
        self._inbox.put((self._set_baseline, (baseline,)))

    def plan_file(self, frame: Fields, future: "Future[Any]") -> None:
        """A unary PlanShot on a saved shot."""
        self._inbox.put((self._plan_file, (frame, future)))

    def begin_anew(self) -> None:
        """Leaves a stop; a session that was taken over is given up."""
        self._inbox.put((self._begin_anew, ()))

    def close(self, keep_session: bool) -> None:
        """Ends the session (or leaves it to be resumed by nobody until it lapses), the helper and the
        thread."""
        self._inbox.put((self._close, (keep_session,)))

    def join(self, patience_s: Optional[float]) -> bool:
        """Waits for the thread's end; whether it came."""
        self._thread.join(patience_s)
        return not self._thread.is_alive()

    # The loop.

    def _run(self) -> None:
        self._tell(Connection.WAITING, "")
        self._advance()
        while not self._closing:
            try:
                do, arguments = self._inbox.get(timeout=self._patience_s())
            except queue.Empty:
                pass
            else:
                try:
                    do(*arguments)
                except HelperGone as error:
                    self._lost(str(error))
                except Exception as error:  # pylint: disable=broad-except
                    # A thread that ends without a word would leave the host waiting for ever.
                    _LOG.exception("scantling worker")
                    self._lost(f"{type(error).__name__}: {error}")
            self._advance()
        if self._helper is not None:
            self._helper.end(_CLOSE_PATIENCE_S)
        self._fail_all("CANCELLED", "closed")
        self._tell(Connection.CLOSED, "")
        self._publish()
        self._call_host()

    def _patience_s(self) -> Optional[float]:
        times = [self._retry_at] if self._phase is _Phase.PAUSED else []
        if self._wake_at is not None:
            times.append(self._wake_at)
        return max(0.0, min(times) - time.monotonic()) if times else None

    def _advance(self) -> None:
        now = time.monotonic()
        if self._phase is _Phase.PAUSED and now >= self._retry_at:
            self._phase = _Phase.IDLE
        if not self._closing:
            try:
                self._go_on()
            except HelperGone as error:
                self._lost(str(error))
        self._publish()
        if self._outbox.filled or self._wants_pump:
            self._note()
        if self._wake_at is not None and now >= self._wake_at:
            self._wake_at, self._last_wake = None, now
            self._call_host()

    def _go_on(self) -> None:
        connect = self._phase is _Phase.IDLE and self._session.ready
        if connect or (self._calls and self._phase is not _Phase.PAUSED):
            self._ensure_helper()
        if connect:
            self._connect()

    def _publish(self) -> None:
        session = self._session
        wanted = (self.wants_everything, self.wants_changes)
        self.epoch = session.epoch
        stopped = self._phase is _Phase.STOPPED and not self.waits_for_note
        self.wants_everything = not session.ready and not stopped
        self.wants_changes = session.wants_changes and self._phase is _Phase.LIVE
        self._wants_pump = wanted != (self.wants_everything, self.wants_changes)

    def _call_host(self) -> None:
        if self._wake is None:
            return
        try:
            self._wake()
        except Exception:  # pylint: disable=broad-except
            _LOG.exception("the host's executor")

    def _noted(self) -> None:
        self._note_waits = False
        self._note()

    def _note(self) -> None:
        if self._wake is not None and self._wake_at is None:
            self._wake_at = max(time.monotonic(), self._last_wake + self._wake_every_s)

    def _tell(self, state: Connection, text: str) -> None:
        self._outbox.connection(state, text)

    # The helper.

    def _ensure_helper(self) -> HelperProcess:
        if self._helper is None:
            self._generation += 1
            generation = self._generation
            self._helper = HelperProcess(
                self._helper_options, lambda frame: self._inbox.put((self._frame, (generation, frame))),
                lambda why: self._inbox.put((self._helper_ended, (generation, why))))
            self.helper_pid = self._helper.pid
            for frame, _ in self._calls.values():
                self._helper.write(frame)
        return self._helper

    def _write(self, frame: Fields) -> None:
        if self._helper is None:
            raise HelperGone("no helper")
        self._helper.write(frame)

    def _send(self, message: Fields) -> None:
        self._write({"do": "send", "stream": self._stream, "message": message})

    def _helper_ended(self, generation: int, why: str) -> None:
        if generation == self._generation and self._helper is not None:
            self._lost(why)

    def _frame(self, generation: int, frame: Fields) -> None:
        if generation != self._generation:
            return
        got = frame.get("got")
        if got == "unfit":
            raise HelperGone(frame.get("text", ""))
        if got in ("answer", "failed"):
            self._call_ended(frame)
        elif got == "malformed" and frame.get("call", 0):
            self._call_ended({"got": "failed", "call": frame["call"], "code": "INVALID_ARGUMENT",
                              "text": frame["text"]})
        elif frame.get("stream", self._stream) != self._stream or not self._open:
            return
        elif got == "message":
            self._message(frame["message"])
        elif got == "ended":
            self._ended(frame)

    # The stream.

    @property
    def _open(self) -> bool:
        return self._phase in (_Phase.CONNECTING, _Phase.LIVE)

    def _connect(self) -> None:
        self._stream += 1
        self._joiner.drop()
        self._phase = _Phase.CONNECTING
        self._tell(Connection.CONNECTING, "")
        self._write({"do": "open", "stream": self._stream, "address": self._address,
                     "first": self._session.first_message()})

    def _message(self, message: Fields) -> None:
        (part, fields), = message.items()
        {"started": self._started, "update": self._update, "progress": self._outbox.progress,
         "refusal": self._refusal, "what_if": self._what_if}.get(part, lambda fields: None)(fields)

    def _started(self, fields: Fields) -> None:
        edits = self._session.started(fields)
        if not fields.get("resumed", False):
            self._fresh = True
        self._phase = _Phase.LIVE
        self._tell(Connection.LIVE, "")
        for edit in edits:
            for message in edit.messages:
                self._send(message)
        if self._baseline is not None:
            self._send({"baseline": self._baseline})
        self._asked_there = 0
        self._ask_on()

    def _update(self, fields: Fields) -> None:
        whole = self._joiner.add(fields)
        if whole is None:
            return
        self._backoff.reset()
        self._session.updated(whole.get("revision", 0), whole.get("number", 0))
        if "summary" in whole:
            self._summary = whole["summary"]
        settled = whole.get("number", 0) > 0
        anew = settled and (self._fresh or whole.get("anew", False))
        if settled:
            self._fresh = False
        self._outbox.update(whole, self._session.answered_batch, anew)

    def _refusal(self, fields: Fields) -> None:
        self._backoff.reset()
        status = fields.get("status", {})
        if fields.get("what_if_id"):
            self._answered(fields["what_if_id"], "failed", CallFailed(status_of(status)))
            return
        if fields.get("baseline", False):
            self._baseline = None
            self._outbox.refusal(RefusalNote("baseline", 0, status, {}, Remains()))
            return
        paths = [fault.get("field", "") for fault in status.get("faults", ())]
        edit, remains = self._session.refused(fields.get("revision", 0), paths)
        if edit is None:
            return
        named = {path: named_in(edit, path) for path in paths}
        self._outbox.refusal(RefusalNote("edit", edit.revision, status, named, remains))

    def _what_if(self, fields: Fields) -> None:
        if "faults" in fields.get("problem", {}):
            self._answered(fields.get("what_if_id", ""), "failed", CallFailed(status_of(fields["problem"])))
        else:
            self._answered(fields.get("what_if_id", ""), "what_if", fields)

    def _answered(self, what_if_id: str, kind: str, outcome: Any) -> None:
        asked = self._what_ifs.pop(what_if_id, None)
        if asked is not None:
            self._asked_there -= 1
            self._outbox.answer(asked[1], kind, outcome)
            self._ask_on()

    def _ask_on(self) -> None:
        """Sends further what-ifs, as many as the daemon lets wait."""
        for what_if, _ in list(self._what_ifs.values())[self._asked_there:_MOST_WHAT_IFS]:
            self._send({"what_if": what_if})
            self._asked_there += 1

    def _ended(self, frame: Fields) -> None:
        code, text = frame.get("code", "UNKNOWN"), frame.get("text", "")
        began = self._phase is _Phase.CONNECTING and self._session.session_id is None
        if code == "NOT_FOUND":
            self._lose_session()
            self._pause(f"{code}: {text}", 0.0)
        elif code == "ABORTED":
            self._lose_session()
            self._stop(Connection.TAKEN_OVER, text)
        elif code in _FAULT_CODES and began:
            self._outbox.refusal(RefusalNote("shot", 0, frame, {}, Remains()))
            self._lose_session()
            self.waits_for_note = True
            self._stop(Connection.FAULTY, text)
        elif code in _FAULT_CODES:
            self._lose_session()  # it does not take our messages in their order: one of us has lost count
            self._pause(f"{code}: {text}", LIMITS_S)
        else:
            self._pause(f"{code}: {text}", LIMITS_S if code in _LIMIT_CODES else 0.0)

    def _lose_session(self) -> None:
        self._session.lose()

    def _stop(self, state: Connection, text: str) -> None:
        self._phase = _Phase.STOPPED
        self._joiner.drop()
        self._tell(state, text)

    def _pause(self, why: str, least_s: float) -> None:
        pause_s = self._backoff.pause_s(least_s)
        self._joiner.drop()
        self._phase = _Phase.PAUSED
        self._retry_at = time.monotonic() + pause_s
        self._tell(Connection.LOST, f"{why}; again in {pause_s:.1f} s")

    def _lost(self, why: str) -> None:
        """The helper is gone, by itself or by what it says."""
        if self._helper is not None:
            self._helper.end()
            self._helper = None
            self.helper_pid = 0
        if self._phase is not _Phase.STOPPED:
            self._pause(why, 0.0)

    # What the host's thread asked for.

    def _take(self, batch: Batch) -> None:
        if batch.epoch == self._session.epoch and batch.everything and self._phase is _Phase.STOPPED:
            self._phase = _Phase.IDLE
            self.waits_for_note = False
        session = self._session
        edit = session.take(batch)
        if edit is None and not self._fresh and session.last_batch == batch.number == session.answered_batch:
            self._outbox.answered(batch.number)
        try:
            if edit is not None and self._phase is _Phase.LIVE:
                for message in edit.messages:
                    self._send(message)
        finally:
            self.taken = batch.number

    def _ask(self, edit: Fields, future: "Future[Any]") -> None:
        self._asked += 1
        what_if = {"what_if_id": f"w{self._asked}", "edit": edit}
        self._what_ifs[what_if["what_if_id"]] = (what_if, future)
        if self._phase is _Phase.LIVE:
            self._ask_on()

    def _set_baseline(self, baseline: Fields) -> None:
        if baseline.pop("present", False):
            if self._summary is None:
                self._outbox.refusal(RefusalNote("baseline", 0, {"code": "FAILED_PRECONDITION", "text":
                                                                 "got no plan yet, want one to compare with"},
                                                 {}, Remains()))
                return
            baseline["totals"] = self._summary.get("totals", {})
        self._baseline = None if "none" in baseline else baseline
        if self._phase is _Phase.LIVE:
            self._send({"baseline": baseline})

    def _plan_file(self, frame: Fields, future: "Future[Any]") -> None:
        self._asked += 1
        frame = dict(frame, do="plan", call=self._asked)
        frame.setdefault("address", self._address)
        self._calls[self._asked] = (frame, future)
        if self._helper is not None:
            self._helper.write(frame)

    def _call_ended(self, frame: Fields) -> None:
        call = self._calls.pop(frame["call"], None)
        if call is None:
            return
        if frame["got"] == "answer":
            self._outbox.answer(call[1], "plan", frame["plan"])
        else:
            self._outbox.answer(call[1], "failed", CallFailed(status_of(frame)))

    def _begin_anew(self) -> None:
        self.waits_for_note = False
        if self._phase is _Phase.STOPPED:
            self._phase = _Phase.IDLE
        elif self._phase is _Phase.PAUSED:
            self._retry_at = 0.0

    def _close(self, keep_session: bool) -> None:
        self._closing = True
        if self._open:
            if not keep_session:
                self._send({"close": {}})
            self._write({"do": "finish", "stream": self._stream})

    def _fail_all(self, code: str, text: str) -> None:
        ended: List["Future[Any]"] = [future for _, future in self._what_ifs.values()]
        ended += [future for _, future in self._calls.values()]
        self._what_ifs.clear()
        self._calls.clear()
        for future in ended:
            self._outbox.answer(future, "failed", CallFailed(status_of({"code": code, "text": text})))
