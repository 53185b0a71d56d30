"""Prints decisions as a camera moves through a small quay: no window, no host, only the kit.

    export PYTHONPATH=<build>/python
    python3 client/python/examples/camera_moves.py --daemon <build>/bin/scantlingd
    python3 client/python/examples/camera_moves.py --address unix:/run/user/1000/scantlingd.sock

The artist here is a loop: it tracks the camera along the quay step by step, faster than the daemon is asked,
and at the end asks what it would change if the lamplighter stood on the far hillside. The scene is said the
way many hosts say theirs: centimetres, Z up.
"""

import argparse
import sys
import time
from typing import Any, Dict, List, Optional, Sequence

from scantling_kit import (Callbacks, Connection, HelperOptions, LiveOptions, LiveShot, PlanState, PlanUpdate,
                           PrivateDaemon, Refusal)
from scantling_kit.hosts.dict_host import DictHost

STEPS = 8
STEP_S = 0.05
PATIENCE_S = 60.0


def at(right: float, ahead: float, up: float = 0.0) -> List[float]:
    """A place in centimetres, Z up: to the right, ahead (+Y), up; column-major."""
    return [1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0, right, ahead, up, 1]


def camera_at(ahead: float) -> Dict[str, Any]:
    """A camera at eye height that looks ahead: its own -Z along the world's +Y, its own +Y up."""
    return {"transforms": [[1, 0, 0, 0, 0, 0, 1, 0, 0, -1, 0, 0, 0, ahead, 160, 1]]}


def thing(name: str, class_name: str, size: Sequence[float], place: List[float]) -> Dict[str, Any]:
    """Something so wide, deep and high, standing on the ground."""
    wide, deep, high = size
    return {
        "name": name, "class_name": class_name,
        "box": ((-wide / 2, -deep / 2, 0), (wide / 2, deep / 2, high)), "transforms": [place]
    }


def quay() -> Dict[str, Any]:
    """The lamplighter, her dog, porters further and further along the quay, and a boat."""
    objects = {"u1": thing("lamplighter", "lead", (50, 40, 170), at(-80, 900)),
               "u2": thing("dog", "dog", (30, 90, 60), at(40, 1000)),
               "u9": thing("boat", "boat", (400, 1200, 350), at(700, 5000))}
    for index in range(6):
        objects[f"p{index}"] = thing(f"porter {index + 1}", "person", (50, 40, 175),
                                     at(-300 + 110 * index, 1500 * 2 ** index))
    camera = {"name": "main", "window": (36, 15), "focal_mm": [35.0], "image_px": (2048, 853), "near": 10}
    camera.update(camera_at(0))
    return {
        "metres_per_unit": 0.01, "up_axis": "Z", "shot_id": "qy_010", "frame_count": 24, "first_frame": 1001,
        "cameras": {"cam": camera}, "objects": objects
    }


class Printer:
    """Writes down what arrives: who changes tier, and the totals."""

    def __init__(self) -> None:
        self._start = time.monotonic()
        self._tiers: Dict[str, str] = {}
        self.refused = False

    def line(self, text: str) -> None:
        """One line with its time."""
        print(f"{time.monotonic() - self._start:7.3f} s  {text}", flush=True)

    def update(self, update: PlanUpdate) -> None:
        """Every tier that changed with its reason, how many decisions changed otherwise, then the totals."""
        for look in update.quick:
            if self._tiers.get(look.name) != look.tier:
                self.line(f"    {look.name:<12} {self._was(look.name):<13}-> {look.tier:<13} at first look")
        others = 0
        for decision in update.changed:
            if self._tiers.get(decision.name) == decision.tier:
                others += 1
                continue
            self.line(f"    {decision.name:<12} {self._was(decision.name):<13}-> {decision.tier:<13} "
                      f"{decision.reason_text}")
            self._tiers[decision.name] = decision.tier
        if others:
            self.line(f"    {others} more stay as they are, with other figures")
        if update.problem is not None:
            self.line(f"    no plan: {update.problem.text}")
        elif update.totals is not None and update.state is not PlanState.PROVISIONAL:
            self._totals(update)

    def _was(self, name: str) -> str:
        return self._tiers.get(name, "")

    def _totals(self, update: PlanUpdate) -> None:
        totals = update.totals
        assert totals is not None
        against = "" if update.baseline is None else (
            f" ({update.baseline.anim_hours:+.1f} against '{update.baseline.label}')")
        self.line(
            f"  {update.state.value} plan of revision {update.revision}: {totals.full_rig} FULL_RIG, "
            f"{totals.proxy} PROXY, {totals.colour_patch} COLOUR_PATCH, {totals.omitted} OMITTED; about "
            f"{totals.anim_hours:.1f} animator-hours{against}")

    def refusal(self, refusal: Refusal) -> None:
        """Every fault."""
        self.refused = True
        self.line(f"refused ({refusal.what}): {refusal.status.text}")
        for fault in refusal.status.faults:
            self.line(f"    {fault.field}: {fault.description}")

    def connection(self, state: Connection, text: str) -> None:
        """How things stand."""
        self.line(f"[{state.value}] {text}".rstrip())


def pump_while(live: LiveShot, seconds: float) -> None:
    """What a host's timer does."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        live.pump()
        time.sleep(0.005)


def pump_until_final(live: LiveShot) -> bool:
    """Until the plan may be published; False where that takes too long."""
    end = time.monotonic() + PATIENCE_S
    while not live.publishable and time.monotonic() < end:
        live.pump()
        time.sleep(0.005)
    return live.publishable


def act(live: LiveShot, host: DictHost, printer: Printer) -> bool:
    """The artist's session; whether every plan came."""
    if not pump_until_final(live):
        return False
    live.set_baseline("before the move")
    for step in range(1, STEPS + 1):
        ahead = 900.0 * step
        printer.line(f"the camera goes to {ahead / 100:.0f} m along the quay")
        host.set_camera("cam", **camera_at(ahead))
        pump_while(live, STEP_S)
    if not pump_until_final(live):
        return False
    printer.line("what if the lamplighter stood a kilometre off?")
    lamplighter = host.read_object("u1")
    assert lamplighter is not None
    far_away = type(lamplighter)(**{**vars(lamplighter), "transforms": [at(0, 100_000)]})
    answer = live.what_if(objects=[far_away])
    end = time.monotonic() + PATIENCE_S
    while not answer.done() and time.monotonic() < end:
        live.pump()
        time.sleep(0.005)
    if not answer.done():
        return False
    result = answer.result()
    printer.line(f"    {result.changed_count} decisions would change: " +
                 ", ".join(f"{decision.name} {decision.tier}" for decision in result.decisions))
    return True


def main(arguments: Optional[Sequence[str]] = None) -> int:
    """0: every plan came; 1: not; 2: usage."""
    parser = argparse.ArgumentParser(description="Prints decisions as a camera moves.")
    where = parser.add_mutually_exclusive_group(required=True)
    where.add_argument("--address", help="a daemon that runs, unix:PATH or HOST:PORT")
    where.add_argument("--daemon", help="path of scantlingd, to start a private one")
    parser.add_argument("--config", help="the private daemon's configuration file")
    parser.add_argument("--python", help="interpreter that has grpcio and protobuf")
    given = parser.parse_args(arguments)
    daemon = None if given.daemon is None else PrivateDaemon(given.daemon, given.config)
    printer = Printer()
    host = DictHost(quay())
    callbacks = Callbacks(printer.update, printer.refusal, printer.connection)
    helper = HelperOptions() if given.python is None else HelperOptions(python=given.python)
    live = LiveShot(host, given.address if daemon is None else daemon.address, callbacks, LiveOptions(),
                    helper)
    try:
        came = act(live, host, printer)
    finally:
        live.close(wait_s=5.0)
        if daemon is not None:
            daemon.close()
    if not came:
        print("no plan came in time", file=sys.stderr)
    return 0 if came and not printer.refused else 1


if __name__ == "__main__":
    sys.exit(main())
