"""The kit over its helper process against a fake daemon: what is sent, what arrives, in which order."""

import os
import queue
import signal
import subprocess
import sys
import time
import unittest

from fake_daemon import MESSAGES
from kit_case import KitCase
from scantling_kit import CallFailed, Connection, HostObject
from scantling_kit.hosts.dict_host import DictHost
from scantling_kit.session import MOST_IN_FLIGHT
from scenes import PATIENCE_S, at, person, stage


def runs(pid):
    """Whether the process is there, and no mere entry waiting for its parent."""
    try:
        with open(f"/proc/{pid}/stat", encoding="utf-8") as stream:
            return stream.read().rsplit(")", 1)[1].split()[0] != "Z"
    except FileNotFoundError:
        return False


class Living(KitCase):

    def test_decisions_come_with_handle_and_present_name(self):
        self.start(stage(u1=person(-5), u2=person(-50, "walker")))
        self.until_final()
        self.assertEqual(self.tiers(), {"u1": "FULL_RIG", "u2": "PROXY"})
        self.assertEqual(self.live.decisions["u2"].name, "walker")
        self.assertEqual((self.live.totals.objects, self.live.totals.anim_hours), (2, 10.0))
        self.assertEqual(self.daemon.parts(), ["begin", "edit"])
        begin = self.daemon.received[0].begin
        self.assertEqual((begin.header.frames.first, begin.header.frames.last, begin.current_frame),
                         (1001, 1012, 1001))

    def test_only_what_changed_is_sent_and_told(self):
        self.start(stage(u1=person(-5), u2=person(-50, "walker")))
        self.until_final()
        del self.updates[:]
        self.host.set_object("u2", transforms=[at(0, 0, -6)])
        self.assertFalse(self.live.publishable)
        self.until_final()
        self.assertEqual([thing.id for thing in self.daemon.edits()[1].objects], ["walker"])
        self.assertEqual(
            [(decision.handle, decision.tier) for update in self.updates for decision in update.changed],
            [("u2", "FULL_RIG")])
        self.assertEqual([decision.tier for update in self.updates for decision in update.quick][:1],
                         ["FULL_RIG"] if any(update.quick for update in self.updates) else [])

    def test_a_camera_move_travels_alone(self):
        self.start(stage(u1=person(-50)))
        self.until_final()
        self.host.set_camera("cam", transforms=[at(0, 1.6, -45)])
        self.until_final()
        edit = self.daemon.edits()[1]
        self.assertEqual((len(edit.objects), [camera.id for camera in edit.cameras], edit.HasField("header")),
                         (0, ["main"], False))
        self.assertEqual(self.tiers(), {"u1": "FULL_RIG"})

    def test_a_camera_more_comes_by_a_header(self):
        self.start(stage(u1=person(-50)))
        self.until_final()
        camera = dict(stage()["cameras"]["cam"], name="witness")
        self.host.set_camera("cam2", **camera)
        self.until_final()
        self.assertEqual([camera.id for camera in self.daemon.edits()[1].header.cameras], ["main", "witness"])

    def test_a_rename_keeps_the_id_and_a_newcomer_gets_another(self):
        self.start(stage(u1=person(-5)))
        self.until_final()
        self.host.set_object("u1", name="head porter")
        self.host.set_object("u2", **person(-7))
        self.until_final()
        self.assertEqual(sorted(self.daemon.only_session().objects), ["porter", "porter#2"])
        self.host.set_object("u1", transforms=[at(0, 0, -500)])
        self.until_final()
        self.assertEqual((self.live.decisions["u1"].name, self.live.decisions["u1"].tier),
                         ("head porter", "OMITTED"))

    def test_removed_objects_are_gone_and_come_back_under_their_id(self):
        self.start(stage(u1=person(-5), u2=person(-5, "walker")))
        self.until_final()
        self.host.remove_object("u2")
        self.until_final()
        self.assertEqual(self.tiers(), {"u1": "FULL_RIG"})
        self.assertEqual(self.updates[-1].gone, ("u2",))
        self.host.set_object("u2", **person(-5, "undone"))
        self.until_final()
        self.assertEqual((self.tiers()["u2"], self.live.id_of("u2")), ("FULL_RIG", "walker"))

    def test_containers_go_by_handle_whichever_is_read_first(self):
        self.start(stage(u1=person(-5, container="u9"), u9=person(-5, "ferry", class_name="vessel")))
        self.until_final()
        self.assertEqual(self.daemon.only_session().objects["porter"].container_id, "ferry")
        self.assertEqual(self.refusals, [])

    def test_other_frames_send_what_moves_again_in_the_same_edit(self):
        moving = [at(0, 0, -5 - index) for index in range(12)]
        self.start(stage(u1=person(-5), u2=person(-5, "walker", transforms=moving)))
        self.until_final()
        self.host.set_object("u2", transforms=moving[:6])
        self.host.set_shot(frame_count=6)
        self.until_final()
        self.assertEqual(self.refusals, [])
        edit = self.daemon.edits()[1]
        self.assertEqual((edit.header.frames.last, [thing.id for thing in edit.objects]), (1006, ["walker"]))

    def test_other_units_send_everything_again(self):
        self.start(stage(u1=person(-5), u2=person(-50, "walker")))
        self.until_final()
        self.host.set_shot(metres_per_unit=10.0)
        self.until_final()
        self.assertEqual(self.tiers(), {"u1": "PROXY", "u2": "OMITTED"})  # 50 m and 500 m

    def test_options_and_directives_travel_alone(self):
        self.start(stage(u1=person(-5)))
        self.until_final()
        self.host.set_shot(options={"anim_hours": 12.0})
        self.until_final()
        self.host.set_shot(directives=[{"handle": "u1", "bound": "AT_LEAST", "tier": "PROXY"}])
        self.until_final()
        first, second = self.daemon.edits()[1:]
        self.assertEqual((first.options.anim_hours, first.HasField("directives")), (12.0, False))
        self.assertEqual((second.directives.directives[0].object_id, second.HasField("options")),
                         ("porter", False))

    def test_closing_ends_the_session_and_the_helper(self):
        self.start(stage(u1=person(-5)))
        self.until_final()
        pid = self.live.helper_pid
        self.live.close(wait_s=10.0)
        self.assertEqual((self.daemon.parts()[-1], self.daemon.sessions, self.live.connection),
                         ("close", {}, Connection.CLOSED))
        with self.assertRaises(ProcessLookupError):
            os.kill(pid, 0)

    def test_a_host_that_is_killed_leaves_no_helper_and_a_session_to_lapse(self):
        script = ("import sys, time\n"
                  "from scantling_kit import LiveShot\n"
                  "from scantling_kit.hosts.dict_host import DictHost\n"
                  "from scenes import person, pump_until, stage\n"
                  "live = LiveShot(DictHost(stage(u1=person(-5))), sys.argv[1])\n"
                  "pump_until(live, lambda: live.publishable, 'a plan')\n"
                  "print(live.helper_pid, flush=True)\n"
                  "time.sleep(600)\n")
        with subprocess.Popen([sys.executable, "-c", script, self.daemon.address], stdout=subprocess.PIPE,
                              env=dict(os.environ, PYTHONPATH=os.pathsep.join(sys.path))) as host:
            helper = int(host.stdout.readline())
            host.kill()
        end = time.monotonic() + PATIENCE_S
        while runs(helper) and time.monotonic() < end:
            time.sleep(0.005)
        self.assertFalse(runs(helper))
        self.assertEqual((len(self.daemon.sessions), self.daemon.parts()), (1, ["begin", "edit"]))

    def test_a_shot_without_objects_lives_too(self):
        self.start(stage())
        self.until_final()
        self.assertEqual(self.live.totals.objects, 0)
        self.host.set_object("u1", **person(-5))
        self.until_final()
        self.assertEqual(self.tiers(), {"u1": "FULL_RIG"})


class Throttling(KitCase):

    def test_what_changes_in_between_is_merged_and_nothing_goes_before_its_time(self):
        now = [100.0]
        self.start(stage(u1=person(-5), u2=person(-5, "walker")), batches_per_second=10.0,
                   clock=lambda: now[0])
        self.until_final()
        for index in range(50):
            self.host.set_object("u1", transforms=[at(0, 0, -6 - index)])
            self.host.set_object("u2", transforms=[at(0, 0, -6 - index)])
            self.live.pump()
        # A tenth of a second has not passed on the clock: nothing was read, whatever time passed on the wall.
        self.assertEqual(len(self.daemon.edits()), 1)
        now[0] += 0.11
        self.until_final()
        edits = self.daemon.edits()[1:]
        self.assertEqual([[thing.transform.matrices[14] for thing in edit.objects] for edit in edits],
                         [[-55.0, -55.0]])

    def test_a_pump_reads_for_its_slice_and_goes_on_in_the_next(self):
        now = [100.0]
        reads = []

        class Slow(DictHost):
            def read_object(self, handle):
                now[0] += 0.001  # each takes a millisecond
                reads.append(handle)
                return super().read_object(handle)

        scene = stage(**{f"u{index}": person(-5, f"walker {index}") for index in range(10)})
        self.start(Slow(scene), slice_ms=3.5, clock=lambda: now[0])
        self.until(lambda: bool(reads), "a first read")
        counts = [len(reads)]
        while len(reads) < 10:
            self.assertEqual(self.daemon.parts(), [])  # half a shot is not sent
            self.live.pump()
            counts.append(len(reads))
        # 3.5 ms are over after the fourth.
        self.assertEqual(counts, [4, 8, 10])
        self.until_final()

    def test_many_decisions_are_taken_in_by_slices_and_told_at_once(self):
        ticks = [0.0]

        def clock():
            ticks[0] += 0.001  # every look takes a millisecond
            return ticks[0]

        self.start(stage(**{f"u{index}": person(-5, f"walker {index}") for index in range(40)}), clock=clock)
        self.until(lambda: len(self.daemon.edits()) == 1, "the edit")
        while self.live._worker._session.last_update == 0:  # the worker has the update, the host has not
            time.sleep(0.001)
        pumps = 0
        while not any(update.changed for update in self.updates):
            self.live.pump()
            self.assertIn(len(self.live.decisions), (0, 40))
            pumps += 1
        # The 4 ms of a pump are over with the fourth decision at the latest.
        self.assertGreaterEqual(pumps, 10)
        self.assertEqual(len(self.updates[-1].changed), 40)
        self.until_final()

    def test_a_change_of_frames_in_the_middle_of_reading_starts_it_over(self):
        now = [100.0]

        class Slow(DictHost):
            def read_object(self, handle):
                now[0] += 1.0
                return super().read_object(handle)

        tracks = {
            f"u{index}": person(-5, f"walker {index}", transforms=[at(0, 0, -5)] * 12) for index in range(3)
        }
        self.start(Slow(stage(**tracks)), slice_ms=1.0, clock=lambda: now[0])
        self.until(lambda: now[0] > 100.0, "a first read")
        for handle in tracks:
            self.host.set_object(handle, transforms=[at(0, 0, -5)] * 4)
        self.host.set_shot(frame_count=4)
        self.until_final()
        self.assertEqual((self.refusals, self.daemon.parts()), ([], ["begin", "edit"]))
        self.assertEqual(self.daemon.received[0].begin.header.frames.last, 1004)

    def test_nothing_the_host_calls_waits_for_a_helper_that_stands_still(self):
        self.start(stage(u1=person(-5)), batches_per_second=1e9)
        self.until_final()
        os.kill(self.live.helper_pid, signal.SIGSTOP)
        self.addCleanup(lambda: self.live.helper_pid and os.kill(self.live.helper_pid, signal.SIGCONT))
        updates, edits = len(self.updates), len(self.daemon.edits())
        # 400 tracks of 12 matrices of 128 bytes: 600 KB, ten times what a pipe holds. Were anything of this
        # to wait for the helper, the test would stand here for ever.
        for index in range(400):
            self.host.set_object(f"w{index}", **person(-5, f"walker {index}", transforms=[at(0, 0, -5)] * 12))
        for index in range(200):
            self.host.set_object("u1", transforms=[at(0, 0, -5 - index)])
            self.live.pump()
        asked = self.live.what_if(removed=["u1"])
        self.live.set_baseline("now")
        self.live.pump()
        self.assertEqual((len(self.updates), len(self.daemon.edits()), asked.done()), (updates, edits, False))
        os.kill(self.live.helper_pid, signal.SIGCONT)
        self.until_final()
        self.until(asked.done, "the what-if")
        self.assertEqual(len(self.live.decisions), 401)
        # Nothing queued up: what was under way, and one edit of everything since.
        self.assertLessEqual(len(self.daemon.edits()) - edits, MOST_IN_FLIGHT + 2)

    def test_a_callback_may_pump_and_close(self):
        self.start(stage(u1=person(-5)))
        calm = self.live._callbacks

        def pump_on(update):
            self.updates.append(update)
            self.live.pump()
            if update.publishable:
                self.live.close()

        self.live._callbacks = type(calm)(pump_on, self.refusals.append, calm.on_connection)
        self.until(lambda: self.updates and self.updates[-1].publishable, "a plan")
        self.live.close(wait_s=10.0)
        self.assertEqual(self.live.connection, Connection.CLOSED)

    def test_closing_does_not_wait_either(self):
        self.start(stage(u1=person(-5)))
        self.until_final()
        os.kill(self.live.helper_pid, signal.SIGSTOP)
        self.live.close()
        self.assertNotEqual(self.live.connection, Connection.CLOSED)  # it returned before the end
        self.live.close(wait_s=10.0)
        self.assertEqual(self.live.connection, Connection.CLOSED)

    def test_updates_between_two_pumps_are_one(self):
        self.start(stage(u1=person(-5), u2=person(-50, "walker")))
        self.until_final()
        del self.updates[:]
        session = self.daemon.only_session()
        for index in range(50):
            with self.daemon.lock:
                session.objects["walker"].transform.matrices[14] = -5.0 if index % 2 else -50.0
                session.objects[f"guest {index}"] = session.objects["porter"]
                self.daemon._answer(session)
        while self.live._worker._session.last_update < session.number:
            pass  # until the worker has them all; the host has none
        self.live.pump()
        self.assertEqual(len(self.updates), 1)
        self.assertEqual((len(self.updates[0].changed), self.tiers()["u2"]), (51, "FULL_RIG"))

    def test_a_host_that_is_called_needs_no_timer(self):
        calls = queue.SimpleQueue()
        self.start(stage(u1=person(-5)), call_on_host_thread=calls.put)
        while not self.live.publishable:
            calls.get(timeout=90.0)()
        self.host.set_object("u1", transforms=[at(0, 0, -50)])
        while not self.live.publishable:
            calls.get(timeout=90.0)()
        self.assertEqual(self.tiers(), {"u1": "PROXY"})


class Asking(KitCase):

    def test_a_what_if_answers_and_the_session_stays(self):
        self.start(stage(u1=person(-5), u2=person(-50, "walker")))
        self.until_final()
        u1 = self.host.read_object("u1")
        far = HostObject(**{**vars(u1), "transforms": [at(0, 0, -500)]})
        future = self.live.what_if(objects=[far], removed=["u2"])
        self.until(future.done, "the what-if")
        result = future.result()
        self.assertEqual([(decision.handle, decision.tier) for decision in result.decisions],
                         [("u1", "OMITTED")])
        self.assertEqual((result.gone, result.changed_count, result.totals.objects), (("u2",), 1, 1))
        self.assertEqual((len(self.daemon.edits()), self.tiers()), (1, {"u1": "FULL_RIG", "u2": "PROXY"}))

    def test_as_many_what_ifs_as_one_likes(self):
        self.start(stage(u1=person(-5)))
        self.until_final()
        futures = [self.live.what_if(removed=["u1"]) for _ in range(11)]
        self.until(lambda: all(future.done() for future in futures), "the answers")
        self.assertEqual({future.result().gone for future in futures}, {("u1",)})
        self.assertEqual(self.daemon.parts().count("what_if"), 11)

    def test_a_what_if_comes_behind_what_was_changed_before(self):
        self.start(stage(u1=person(-5)))
        self.until_final()
        self.host.set_object("u1", transforms=[at(0, 0, -500)])
        future = self.live.what_if(removed=["u1"])
        self.until(future.done, "the what-if")
        self.assertEqual(self.daemon.parts(), ["begin", "edit", "edit", "what_if"])
        self.assertEqual(future.result().revision, 2)

    def test_a_faulty_what_if_fails_with_its_faults(self):
        self.start(stage(u1=person(-5)))
        self.until_final()
        future = self.live.what_if(
            objects=[HostObject(**{**vars(self.host.read_object("u1")), "class_name": "none"})])
        self.until(future.done, "the what-if")
        with self.assertRaises(CallFailed) as caught:
            future.result()
        self.assertEqual(caught.exception.status.faults[0].field, "objects[0].class_name")
        self.assertEqual(self.refusals, [])

    def test_closing_fails_what_is_still_asked(self):
        self.start(stage(u1=person(-5)))
        self.until_final()
        os.kill(self.live.helper_pid, signal.SIGSTOP)
        future = self.live.what_if(removed=["u1"])
        self.live.pump()
        self.live.close(wait_s=10.0)
        self.assertEqual(future.exception().status.code, "CANCELLED")

    def test_a_baseline_is_told_against_and_outlives_the_session(self):
        self.start(stage(u1=person(-5), u2=person(-50, "walker")))
        self.until_final()
        self.live.set_baseline("monday")
        self.host.set_object("u2", transforms=[at(0, 0, -5)])
        self.until(lambda: self.updates[-1].baseline and self.updates[-1].baseline.anim_hours == 10.0,
                   "the change")
        self.assertEqual(self.updates[-1].baseline.label, "monday")
        self.daemon.forget()
        self.until(lambda: self.daemon.begun == 2 and self.updates[-1].anew and self.updates[-1].baseline,
                   "a new session")
        self.until_final()
        # One full rig in the plan of monday, two now, ten hours each.
        self.assertEqual(self.updates[-1].baseline.anim_hours, 10.0)
        self.live.clear_baseline()
        self.host.set_object("u2", transforms=[at(0, 0, -500)])
        self.until(lambda: self.tiers()["u2"] == "OMITTED", "the change")
        self.until_final()
        self.assertIsNone(self.updates[-1].baseline)

    def test_a_baseline_without_a_plan_is_refused(self):
        self.start(stage(u1=person(-5)))
        self.live.set_baseline("too early")
        self.until(lambda: bool(self.refusals), "the refusal")
        self.assertEqual((self.refusals[0].what, self.refusals[0].status.code),
                         ("baseline", "FAILED_PRECONDITION"))
        self.until_final()


class SavedShots(KitCase):

    def setUp(self):
        super().setUp()
        import tempfile
        folder = tempfile.TemporaryDirectory()
        self.addCleanup(folder.cleanup)
        self.path = os.path.join(folder.name, "monday.json")

    def shot(self):
        shot = MESSAGES.Shot(shot_id="qy_009")
        shot.cameras.add(id="main")
        shot.objects.add(id="porter")
        return shot

    def test_its_totals_can_be_the_baseline(self):
        with open(self.path, "w", encoding="utf-8") as stream:
            stream.write('{"shot_id": "qy_009", "cameras": [{"id": "main"}], "objects": [{"id": "porter"}]}')
        self.start(stage(u1=person(-5)))
        self.until_final()
        future = self.live.set_baseline_from_file("monday", self.path)
        self.until(lambda: self.updates[-1].baseline is not None, "a baseline")
        self.assertEqual((future.result().shot_id, future.result().tiers), ("qy_009", {"porter": "PROXY"}))
        self.assertEqual(self.updates[-1].baseline.anim_hours, 3.0)  # 10 less the 7 of the fake's saved plan

    def test_the_binary_form_is_read_too(self):
        with open(self.path, "wb") as stream:
            stream.write(self.shot().SerializeToString())
        self.start(stage(u1=person(-5)))
        future = self.live.plan_file(self.path)
        self.until(future.done, "the plan")
        self.assertEqual(future.result().totals.anim_hours, 7.0)

    def test_a_file_that_is_not_there_or_no_shot_fails_with_its_name(self):
        self.start(stage(u1=person(-5)))
        absent = self.live.plan_file(self.path)
        self.until(absent.done, "the failure")
        self.assertIn(self.path, str(absent.exception()))
        with open(self.path, "w", encoding="utf-8") as stream:
            stream.write('{"shot": 1}')
        no_shot = self.live.plan_file(self.path)
        self.until(no_shot.done, "the failure")
        self.assertIn("got no shot in JSON", str(no_shot.exception()))

    def test_what_the_daemon_says_against_it_is_told(self):
        with open(self.path, "w", encoding="utf-8") as stream:
            stream.write('{"shot_id": "qy_009"}')
        self.start(stage(u1=person(-5)))
        future = self.live.plan_file(self.path)
        self.until(future.done, "the failure")
        self.assertEqual((future.exception().status.code, future.exception().status.text),
                         ("INVALID_ARGUMENT", "got no camera, want at least one"))


if __name__ == "__main__":
    unittest.main()
