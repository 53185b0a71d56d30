"""A ShotPlanner in this process, with levers: it keeps sessions as the real daemon does, and can lose them,
drop streams, hold its answers back, split updates and refuse.

Its plans are made of one rule, so that tests can say what they expect: an object is FULL_RIG where its first
translation is within 10 m of the first camera's, PROXY within 100 m, else OMITTED.
"""

import math
import queue
import threading
from concurrent import futures
from typing import Any, Dict, List, Optional

import grpc
from scantling_kit.helper.messages import Messages, find_descriptors

MESSAGES = Messages(find_descriptors())
CLASSES = ("person", "lead", "vessel", "prop")
INVALID = 3  # google.rpc.Code of INVALID_ARGUMENT


class Ending(Exception):
    """Makes a stream end with a code."""

    def __init__(self, code: grpc.StatusCode, text: str) -> None:
        super().__init__(text)
        self.code, self.text = code, text


class Session:
    """What the daemon knows of one shot."""

    def __init__(self, session_id: str, begin: Any) -> None:
        self.id = session_id
        self.header = MESSAGES.Shot()
        self.header.CopyFrom(begin.header)
        self.options = MESSAGES.PlanOptions()
        self.options.CopyFrom(begin.options)
        self.objects: Dict[str, Any] = {}
        self.told: Dict[str, str] = {}   # tiers as of the last numbered update
        self.at: Dict[int, Dict[str, str]] = {0: {}}  # told, by update number
        self.revision = 0
        self.number = 0
        self.baseline: Optional[Any] = None
        self.parts: List[Any] = []
        self.refusals: List[Any] = []    # told again on resume
        self.stream: Optional["_Stream"] = None

    def tier(self, thing: Any, camera: Any) -> str:
        eye, at = camera.transform.matrices[12:15], thing.transform.matrices[12:15]
        distance = math.dist(eye, at)
        return "FULL_RIG" if distance <= 10 else "PROXY" if distance <= 100 else "OMITTED"

    def tiers(self, objects: Optional[Dict[str, Any]] = None, header: Optional[Any] = None) -> Dict[str, str]:
        objects = self.objects if objects is None else objects
        camera = (self.header if header is None else header).cameras[0]
        return {name: self.tier(thing, camera) for name, thing in sorted(objects.items())}


class _Stream:
    """One stream's answers."""

    def __init__(self) -> None:
        self.out: "queue.Queue[Any]" = queue.Queue()


class FakeDaemon:
    """Listens on a free port of the loopback, or on `port`."""

    def __init__(self, port: int = 0) -> None:
        self.sessions: Dict[str, Session] = {}
        self.received: List[Any] = []     # every request, in order
        self.begun = 0
        self.hold = threading.Event()     # set: edits are taken in, and not answered
        self.split = False                # updates in two messages
        self.stop_in_the_middle = False  # the next split update loses its second half, and the stream
        self.lose_refusal = False         # the next refusal is swallowed, and the stream with it
        self.refuse_begin: Optional[Ending] = None
        self.lock = threading.RLock()
        self._server = grpc.server(futures.ThreadPoolExecutor(16), options=(("grpc.so_reuseport", 0),))
        handlers = {
            "AssembleShot": grpc.stream_stream_rpc_method_handler(
                self._assemble, MESSAGES.AssembleShotRequest.FromString,
                MESSAGES.AssembleShotResponse.SerializeToString),
            "PlanShot": grpc.unary_unary_rpc_method_handler(
                self._plan, MESSAGES.PlanShotRequest.FromString, MESSAGES.PlanShotResponse.SerializeToString)}
        self._server.add_generic_rpc_handlers(
            (grpc.method_handlers_generic_handler("scantling.v1.ShotPlanner", handlers),))
        self.port = self._server.add_insecure_port(f"127.0.0.1:{port}")
        self._server.start()

    @property
    def address(self) -> str:
        return f"127.0.0.1:{self.port}"

    def stop(self) -> None:
        """Ends all streams and the port, at once."""
        self.drop_streams(grpc.StatusCode.UNAVAILABLE)
        self._server.stop(0).wait()

    # Levers.

    def drop_streams(self, code: grpc.StatusCode, text: str = "dropped") -> None:
        with self.lock:
            for session in self.sessions.values():
                if session.stream is not None:
                    session.stream.out.put(Ending(code, text))
                    session.stream = None

    def forget(self) -> None:
        """As a restarted daemon: no session is known any more."""
        with self.lock:
            self.drop_streams(grpc.StatusCode.UNAVAILABLE)
            self.sessions.clear()

    def answer_held(self) -> None:
        self.hold.clear()
        with self.lock:
            for session in self.sessions.values():
                self._answer(session)

    # What was received.

    def edits(self) -> List[Any]:
        with self.lock:
            return [request.edit for request in self.received if request.WhichOneof("part") == "edit"]

    def parts(self) -> List[str]:
        with self.lock:
            return [request.WhichOneof("part") for request in self.received]

    def only_session(self) -> Session:
        with self.lock:
            session, = self.sessions.values()
            return session

    # The service.

    def _assemble(self, requests: Any, context: Any) -> Any:
        stream = _Stream()
        threading.Thread(target=self._read, args=(requests, stream), daemon=True).start()
        while True:
            answer = stream.out.get()
            if answer is None:
                return
            if isinstance(answer, Ending):
                context.abort(answer.code, answer.text)
            yield answer

    def _read(self, requests: Any, stream: _Stream) -> None:
        session: Optional[Session] = None
        try:
            for request in requests:
                with self.lock:
                    self.received.append(request)
                    session = self._take(request, session, stream)
        except Ending as ending:
            stream.out.put(ending)
            return
        except Exception:  # the stream was dropped
            pass
        stream.out.put(None)

    def _take(self, request: Any, session: Optional[Session], stream: _Stream) -> Session:
        part = request.WhichOneof("part")
        if session is None:
            return self._first(request, stream)
        if session.stream is not stream:
            raise Ending(grpc.StatusCode.UNAVAILABLE, "dropped")
        {"edit": self._edit, "what_if": self._what_if, "baseline": self._baseline,
         "close": self._close}[part](session, getattr(request, part))
        return session

    def _first(self, request: Any, stream: _Stream) -> Session:
        if request.WhichOneof("part") == "begin":
            if self.refuse_begin is not None:
                raise self.refuse_begin
            self.begun += 1
            session = Session(f"s{self.begun}", request.begin)
            self.sessions[session.id] = session
            resumed = False
        else:
            known = self.sessions.get(request.resume.session_id)
            if known is None:
                raise Ending(grpc.StatusCode.NOT_FOUND, "no such session")
            session, resumed = known, True
            if session.stream is not None:
                session.stream.out.put(Ending(grpc.StatusCode.ABORTED, "taken over"))
        session.stream = stream
        session.parts.clear()
        answer = MESSAGES.AssembleShotResponse()
        answer.started.session_id, answer.started.resumed = session.id, resumed
        answer.started.revision, answer.started.update = session.revision, session.number
        answer.started.keep_s = 60
        stream.out.put(answer)
        if resumed:
            for refusal in session.refusals:
                stream.out.put(refusal)
            # Exactly what was missed since the update the client has.
            session.told = dict(session.at.get(request.resume.update, {}))
            if session.revision and not self.hold.is_set():
                self._answer(session, anew=request.resume.update not in session.at)
        return session

    def _edit(self, session: Session, edit: Any) -> None:
        if edit.revision <= session.revision:
            return
        if edit.revision != session.revision + 1:
            raise Ending(grpc.StatusCode.INVALID_ARGUMENT, f"got revision {edit.revision}")
        session.parts.append(edit)
        if edit.continues:
            return
        objects = [thing for part in session.parts for thing in part.objects]
        session.parts.clear()
        session.revision = edit.revision
        faults = self._faults(session, objects, edit)
        if faults:
            self._refuse(session, faults, revision=edit.revision)
            return
        for name in edit.removed_ids:
            del session.objects[name]
        session.objects.update((thing.id, thing) for thing in objects)
        if edit.HasField("header"):
            session.header.CopyFrom(edit.header)
        for camera in edit.cameras:
            next(known for known in session.header.cameras if known.id == camera.id).CopyFrom(camera)
        if edit.HasField("options"):
            session.options.CopyFrom(edit.options)
        if self.hold.is_set():
            return
        self._quick(session, objects)
        self._answer(session)

    def _faults(self, session: Session, objects: List[Any], edit: Any) -> Dict[str, str]:
        faults: Dict[str, str] = {}
        there = (session.objects.keys() | {thing.id for thing in objects}) - set(edit.removed_ids)
        for index, thing in enumerate(objects):
            if thing.class_name not in CLASSES:
                faults[f"objects[{index}].class_name"] = f"got '{thing.class_name}', want a class"
            if thing.container_id and thing.container_id not in there:
                faults[f"objects[{index}].container_id"] = f"got '{thing.container_id}', want an object"
        for index, name in enumerate(edit.removed_ids):
            if name not in session.objects:
                faults[f"removed_ids[{index}]"] = f"got '{name}', want an object of the session"
        for index, camera in enumerate(edit.cameras):
            if camera.near_m <= 0:
                faults[f"cameras[{index}].near_m"] = f"got {camera.near_m}, want above 0"
        if edit.options.anim_hours < 0:
            faults["options.anim_hours"] = "got a number below 0, want 0 or above"
        return faults

    def _refuse(self, session: Session, faults: Dict[str, str], **about: Any) -> None:
        answer = MESSAGES.AssembleShotResponse()
        refusal = answer.refusal
        for name, value in about.items():
            setattr(refusal, name, value)
        refusal.status.code, refusal.status.message = INVALID, f"{len(faults)} faults"
        bad, info = MESSAGES["google.rpc.BadRequest"](), MESSAGES["google.rpc.ErrorInfo"]()
        for path, text in faults.items():
            bad.field_violations.add(field=path, description=text)
        info.reason, info.domain = "EDIT_INVALID", "scantling.v1"
        for detail in (bad, info):
            refusal.status.details.add().Pack(detail)
        if refusal.revision:
            session.refusals.append(answer)
        if self.lose_refusal:
            self.lose_refusal = False
            self.drop_streams(grpc.StatusCode.UNAVAILABLE, "lost with the refusal")
            return
        self._put(session, answer)

    def _quick(self, session: Session, objects: List[Any]) -> None:
        answer = MESSAGES.AssembleShotResponse()
        answer.update.revision, answer.update.state = session.revision, 1
        for thing in objects:
            answer.update.quick.add(object_id=thing.id, tier=session.tier(thing, session.header.cameras[0]),
                                    basis=2, seen=True)
        self._put(session, answer)

    def _answer(self, session: Session, anew: bool = False) -> None:
        """A final update of what changed since the last."""
        tiers = session.tiers()
        session.number += 1
        answer = MESSAGES.AssembleShotResponse()
        update = answer.update
        update.number, update.revision, update.state, update.anew = session.number, session.revision, 3, anew
        update.gone_ids.extend(sorted(session.told.keys() - tiers.keys()))
        changed = [name for name, tier in tiers.items() if anew or session.told.get(name) != tier]
        for name in changed:
            update.decisions.add(object_id=name, tier=tiers[name],
                                 reason_text=f"so far off it is {tiers[name]}")
        session.told = tiers
        session.at[session.number] = dict(tiers)
        self._summarise(update, tiers, session)
        if not self.split:
            self._put(session, answer)
            return
        first, last = MESSAGES.AssembleShotResponse(), MESSAGES.AssembleShotResponse()
        first.CopyFrom(answer)
        first.update.continues = True
        first.update.ClearField("summary")
        last.update.number, last.update.revision = update.number, update.revision
        last.update.state = update.state
        half = len(update.decisions) // 2
        last.update.decisions.extend(update.decisions[half:])
        del first.update.decisions[half:]
        last.update.summary.CopyFrom(update.summary)
        self._put(session, first)
        if self.stop_in_the_middle:
            self.stop_in_the_middle = False
            self.drop_streams(grpc.StatusCode.UNAVAILABLE, "in the middle")
            return
        self._put(session, last)

    def _summarise(self, update: Any, tiers: Dict[str, str], session: Session) -> None:
        totals = update.summary.totals
        totals.objects = len(tiers)
        totals.full_rig = sum(tier == "FULL_RIG" for tier in tiers.values())
        totals.plan.anim_hours.mean = 10.0 * totals.full_rig
        if session.baseline is not None:
            update.baseline.label = session.baseline.label
            before = session.baseline.totals.plan.anim_hours.mean
            update.baseline.anim_hours = totals.plan.anim_hours.mean - before
            update.baseline.objects = totals.objects - session.baseline.totals.objects

    def _what_if(self, session: Session, asked: Any) -> None:
        objects = dict(session.objects)
        faults = self._faults(session, list(asked.edit.objects), asked.edit)
        if faults:
            self._refuse(session, faults, what_if_id=asked.what_if_id)
            return
        for name in asked.edit.removed_ids:
            objects.pop(name)
        objects.update((thing.id, thing) for thing in asked.edit.objects)
        before, after = session.tiers(), session.tiers(objects)
        answer = MESSAGES.AssembleShotResponse()
        told = answer.what_if
        told.what_if_id, told.revision = asked.what_if_id, session.revision
        changed = [name for name, tier in after.items() if before.get(name) != tier]
        for name in changed:
            told.decisions.add(object_id=name, tier=after[name])
        told.changed = len(changed)
        told.gone_ids.extend(sorted(before.keys() - after.keys()))
        self._summarise(told, after, session)
        self._put(session, answer)

    def _baseline(self, session: Session, baseline: Any) -> None:
        session.baseline = None if baseline.none else baseline
        if not self.hold.is_set() and session.revision:
            self._answer(session)

    def _close(self, session: Session, _: Any) -> None:
        self.sessions.pop(session.id, None)
        if session.stream is not None:
            session.stream.out.put(None)

    @staticmethod
    def _put(session: Session, answer: Any) -> None:
        if session.stream is not None:
            session.stream.out.put(answer)

    def _plan(self, request: Any, context: Any) -> Any:
        answer = MESSAGES.PlanShotResponse()
        answer.plan.shot_id = request.shot.shot_id
        if not request.shot.cameras:
            context.abort(grpc.StatusCode.INVALID_ARGUMENT, "got no camera, want at least one")
        for thing in request.shot.objects:
            answer.plan.decisions.add(object_id=thing.id, tier="PROXY")
        answer.plan.totals.objects = len(request.shot.objects)
        answer.plan.totals.plan.anim_hours.mean = 7.0
        return answer
