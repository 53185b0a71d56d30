"""Scenes and waiting, shared by the kit's tests."""

import time
from typing import Any, Callable, Dict, List

PATIENCE_S = 90.0  # for what must happen; a test that passes does not wait so long


def at(x: float, y: float, z: float) -> List[float]:
    """A matrix that moves and nothing else, column-major."""
    return [1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0, x, y, z, 1]


def person(z: float, name: str = "porter", **fields: Any) -> Dict[str, Any]:
    """A person of 1.75 m standing so far down -Z."""
    return dict({"name": name, "class_name": "person", "box": ((-0.25, 0, -0.25), (0.25, 1.75, 0.25)),
                 "transforms": [at(0, 0, z)]}, **fields)


def stage(**objects: Dict[str, Any]) -> Dict[str, Any]:
    """A shot of 12 frames with a camera at eye height looking down -Z, and these objects by handle."""
    camera = {"name": "main", "window": (36, 15), "focal_mm": [35.0], "image_px": (2048, 853), "near": 0.1,
              "transforms": [at(0, 1.6, 0)]}
    return {
        "shot_id": "qy_010", "frame_count": 12, "first_frame": 1001, "style": "ink",
        "cameras": {"cam": camera}, "objects": objects
    }


def pump_until(live: Any, condition: Callable[[], bool], what: str) -> None:
    """Pumps as a host's timer does until the condition holds. AssertionError naming what did not come."""
    give_up = time.monotonic() + PATIENCE_S
    while True:
        live.pump()
        if condition():
            return
        if time.monotonic() > give_up:
            raise AssertionError(f"did not come: {what}; connection {live.connection}, state {live.state}")
        time.sleep(0.002)
