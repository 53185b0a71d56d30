"""A fake daemon, a host of dicts and a live shot on them, for one test."""

import os
import unittest
from typing import Any, Dict, List, Optional

from fake_daemon import FakeDaemon
from scantling_kit import Callbacks, Connection, HelperOptions, LiveOptions, LiveShot, PlanUpdate, Refusal
from scantling_kit.hosts.dict_host import DictHost
from scenes import pump_until


class KitCase(unittest.TestCase):
    """`self.live` over `self.host`, told by `self.daemon`; what came is in `updates`, `refusals`,
    `connections`."""

    def setUp(self) -> None:
        self.daemon = FakeDaemon()
        self.addCleanup(lambda: self.daemon.stop())  # whichever it then is
        self.updates: List[PlanUpdate] = []
        self.refusals: List[Refusal] = []
        self.connections: List[Any] = []
        self.live: Any = None

    def start(self, scene: Any, helper: Optional[HelperOptions] = None, address: Optional[str] = None,
              **options: Any) -> None:
        self.host = scene if not isinstance(scene, dict) else DictHost(scene)
        callbacks = Callbacks(self.updates.append, self.refusals.append,
                              lambda state, text: self.connections.append((state, text)))
        options.setdefault("batches_per_second", 1000.0)
        self.live = LiveShot(self.host, address or self.daemon.address, callbacks, LiveOptions(**options),
                             helper or HelperOptions())
        self.addCleanup(lambda: self.live.close(wait_s=10.0))

    def until(self, condition: Any, what: str) -> None:
        pump_until(self.live, condition, what)

    def until_final(self) -> None:
        self.until(lambda: self.live.publishable, "a plan that may be published")

    def tiers(self) -> Dict[Any, str]:
        return {handle: decision.tier for handle, decision in self.live.decisions.items()}

    def states(self) -> List[Connection]:
        return [state for state, _ in self.connections]

    def killed_helper(self) -> int:
        """Kills the helper; its pid."""
        pid = self.live.helper_pid
        os.kill(pid, 9)
        return pid
