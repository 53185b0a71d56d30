"""Streams, daemons and helpers that are lost, and refusals: kit and session must not part without a word."""

import sys
import unittest

import grpc
from fake_daemon import Ending, FakeDaemon
from kit_case import KitCase
from scantling_kit import Connection, HelperOptions
from scantling_kit.hosts.dict_host import DictHost
from scenes import at, person, stage


class Lost(KitCase):

    def test_a_lost_stream_is_resumed_and_nothing_is_sent_twice(self):
        self.start(stage(u1=person(-5), u2=person(-50, "walker")))
        self.until_final()
        self.daemon.drop_streams(grpc.StatusCode.UNAVAILABLE)
        self.until(lambda: self.daemon.parts().count("resume") == 1, "a resume")
        self.host.set_object("u2", transforms=[at(0, 0, -5)])
        self.until_final()
        self.assertEqual(self.tiers(), {"u1": "FULL_RIG", "u2": "FULL_RIG"})
        self.assertEqual(self.daemon.parts(), ["begin", "edit", "resume", "edit"])
        self.assertEqual(self.daemon.received[2].resume.update, 1)
        self.assertIn(Connection.LOST, self.states())

    def test_edits_in_flight_are_told_after_all(self):
        self.start(stage(u1=person(-5), u2=person(-50, "walker")))
        self.until_final()
        self.daemon.hold.set()
        self.host.set_object("u2", transforms=[at(0, 0, -5)])
        self.until(lambda: len(self.daemon.edits()) == 2, "the edit")
        self.daemon.drop_streams(grpc.StatusCode.UNAVAILABLE)
        self.daemon.hold.clear()
        self.until_final()
        self.assertEqual(self.tiers()["u2"], "FULL_RIG")

    def test_changes_made_while_the_daemon_is_away_arrive_when_it_is_back(self):
        self.start(stage(u1=person(-5)))
        self.until_final()
        port = self.daemon.port
        self.daemon.stop()
        self.until(lambda: Connection.LOST in self.states(), "the loss")
        self.host.set_object("u1", transforms=[at(0, 0, -50)])
        self.host.set_object("u2", **person(-5, "walker"))
        self.until(lambda: self.states().count(Connection.LOST) >= 3, "attempts in vain")
        self.assertEqual(self.tiers(), {"u1": "FULL_RIG"})  # stays on show
        self.assertFalse(self.live.publishable)
        self.daemon = FakeDaemon(port)
        self.until_final()
        # It knows nothing of the session: the whole shot, under the same ids.
        self.assertEqual(self.daemon.parts()[:3], ["resume", "begin", "edit"])
        self.assertEqual(self.tiers(), {"u1": "PROXY", "u2": "FULL_RIG"})

    def test_a_forgotten_session_is_begun_anew_with_ids_kept(self):
        self.start(stage(u1=person(-5), u2=person(-5, "walker")))
        self.until_final()
        self.host.set_object("u1", name="head porter")
        self.host.remove_object("u2")
        self.until_final()
        self.daemon.forget()
        self.until(lambda: self.daemon.begun == 2, "a new session")
        self.until_final()
        self.assertEqual((sorted(self.daemon.only_session().objects), self.tiers()),
                         (["porter"], {"u1": "FULL_RIG"}))

    def test_a_killed_helper_is_started_again_and_resumes(self):
        self.start(stage(u1=person(-5)))
        self.until_final()
        pid = self.killed_helper()
        self.host.set_object("u1", transforms=[at(0, 0, -50)])
        self.until_final()
        self.assertEqual((self.tiers(), self.daemon.begun), ({"u1": "PROXY"}, 1))
        self.assertNotIn(self.live.helper_pid, (0, pid))
        self.assertIn("resume", self.daemon.parts())

    def test_half_an_update_is_dropped_with_its_stream(self):
        self.daemon.split = True
        self.start(stage(u1=person(-5), u2=person(-5, "walker")))
        self.until_final()
        del self.updates[:]
        self.daemon.stop_in_the_middle = True
        self.host.set_object("u1", transforms=[at(0, 0, -50)])
        self.host.set_object("u2", transforms=[at(0, 0, -50)])
        self.until(lambda: self.daemon.parts().count("resume") == 1, "a resume")
        self.until_final()
        # Both decisions at once, when the update came whole; not one of them with the half.
        self.assertEqual([len(update.changed) for update in self.updates if update.changed], [2])
        resume = next(
            request.resume for request in self.daemon.received if request.WhichOneof("part") == "resume")
        self.assertEqual(resume.update, 1)  # the last that was whole

    def test_a_session_taken_over_is_left_alone_until_resync(self):
        self.start(stage(u1=person(-5)))
        self.until_final()
        self.daemon.drop_streams(grpc.StatusCode.ABORTED, "taken over")
        self.until(lambda: self.live.connection is Connection.TAKEN_OVER, "the news")
        self.host.set_object("u1", transforms=[at(0, 0, -50)])
        for _ in range(100):
            self.live.pump()
        self.assertEqual(self.daemon.parts(), ["begin", "edit"])
        self.live.resync()
        self.until_final()
        self.assertEqual((self.daemon.parts(), self.tiers()),
                         (["begin", "edit", "begin", "edit"], {"u1": "PROXY"}))

    def test_want_of_room_is_not_asked_again_at_once(self):
        self.daemon.refuse_begin = Ending(grpc.StatusCode.RESOURCE_EXHAUSTED,
                                          "got a ninth session, want at most 8")
        self.start(stage(u1=person(-5)))
        self.until(lambda: self.live.connection is Connection.LOST, "the refusal")
        text = self.connections[-1][1]
        self.assertIn("want at most 8", text)
        self.assertGreaterEqual(float(text.rsplit(" in ", 1)[1].split()[0]), 15.0)  # half of 30 s at least

    def test_a_refused_beginning_waits_for_a_change(self):
        self.daemon.refuse_begin = Ending(grpc.StatusCode.INVALID_ARGUMENT,
                                          "style: got 'oil', want one there is")
        self.start(stage(u1=person(-5)))
        self.until(lambda: self.live.connection is Connection.FAULTY and self.refusals, "the refusal")
        self.assertEqual((self.refusals[0].what, self.refusals[0].status.text),
                         ("shot", "style: got 'oil', want one there is"))
        for _ in range(100):
            self.live.pump()
        self.assertEqual(self.daemon.parts().count("begin"), 1)
        self.daemon.refuse_begin = None
        self.host.set_shot(style="ink")
        self.until_final()
        self.assertEqual(self.daemon.parts(), ["begin", "begin", "edit"])

    def test_a_helper_that_cannot_be_started_or_has_no_messages_says_so(self):
        self.start(stage(u1=person(-5)), helper=HelperOptions(python="/no/such/python"))
        self.until(lambda: Connection.LOST in self.states(), "the loss")
        self.assertIn("cannot start the helper with /no/such/python", self.connections[-1][1])
        self.live.close(wait_s=10.0)
        del self.connections[:]
        self.start(stage(u1=person(-5)), helper=HelperOptions(python=sys.executable,
                                                              descriptors="/no/such.desc"))
        self.until(lambda: Connection.LOST in self.states(), "the loss")
        self.assertIn("got no message descriptions at /no/such.desc", self.connections[-1][1])

    def test_an_interpreter_that_is_none_tells_its_last_words(self):
        self.start(stage(u1=person(-5)), helper=HelperOptions(python="/bin/sh",
                                                              arguments=("-c", "echo no python >&2; exit 3")))
        self.until(lambda: Connection.LOST in self.states(), "the loss")
        self.until(lambda: any("no python" in text for _, text in self.connections), "its words")


class Refused(KitCase):

    def test_the_faulty_is_told_and_the_innocent_sent_again_without_it(self):
        self.start(stage(u1=person(-5), u2=person(-5, "walker")))
        self.until_final()
        self.host.set_object("u1", class_name="nonsense")
        self.host.set_object("u2", transforms=[at(0, 0, -50)])
        self.until(lambda: self.tiers()["u2"] == "PROXY", "the innocent one's decision")
        refusal, = self.refusals
        self.assertEqual((refusal.what, refusal.handles, refusal.status.reason),
                         ("edit", ("u1",), "EDIT_INVALID"))
        fault, = refusal.status.faults
        self.assertEqual((fault.handle, fault.description),
                         ("u1", "got 'nonsense', want a class"))
        self.assertEqual((self.live.diverged, self.live.publishable), (("u1",), False))
        self.assertEqual(self.daemon.only_session().objects["porter"].class_name, "person")

    def test_what_diverged_goes_along_with_its_next_change(self):
        self.start(stage(u1=person(-5), u2=person(-5, "walker"), u3=person(-5, "bystander")))
        self.until_final()
        # A container that is refused takes what it holds with it; both come right when the container does.
        self.host.set_object("u9", **person(-5, "ferry", class_name="nonsense"))
        self.host.set_object("u2", container="u9", transforms=[at(0, 0, -50)])
        self.until(lambda: set(self.live.diverged) == {"u2", "u9"}, "both refused")
        self.host.set_object("u3", transforms=[at(0, 0, -50)])  # nothing of theirs
        self.until(lambda: self.tiers()["u3"] == "PROXY", "the bystander's decision")
        self.assertEqual(set(self.live.diverged), {"u2", "u9"})
        self.host.set_object("u9", class_name="vessel")
        self.until_final()
        self.assertEqual((self.live.diverged, self.tiers()["u2"]), ((), "PROXY"))
        self.assertEqual(self.daemon.only_session().objects["walker"].container_id, "ferry")

    def test_a_new_object_that_was_refused_can_be_removed(self):
        self.start(stage(u1=person(-5)))
        self.until_final()
        self.host.set_object("u2", **person(-5, "walker", class_name="nonsense"))
        self.until(lambda: bool(self.live.diverged), "the refusal")
        self.host.remove_object("u2")
        self.until_final()
        self.assertEqual((len(self.refusals), self.live.diverged), (1, ()))

    def test_resync_sends_everything_again(self):
        self.start(stage(u1=person(-5), u2=person(-50, "walker")))
        self.until_final()
        session = self.daemon.only_session()
        with self.daemon.lock:  # a daemon that lost an object without a word
            del session.objects["walker"]
            self.daemon._answer(session)
        self.until(lambda: "u2" not in self.tiers(), "the loss")
        self.live.resync()
        self.until_final()
        self.assertEqual((self.tiers(), self.daemon.begun), ({"u1": "FULL_RIG", "u2": "PROXY"}, 1))

    def test_a_refusal_lost_with_its_stream_is_told_all_the_same(self):
        self.start(stage(u1=person(-5)))
        self.until_final()
        self.daemon.lose_refusal = True
        self.host.set_object("u1", class_name="nonsense")
        self.until(lambda: bool(self.refusals), "the refusal")
        self.assertEqual((self.refusals[0].handles, self.live.diverged), (("u1",), ("u1",)))
        # Told again with every further resume, and heard once.
        self.daemon.drop_streams(grpc.StatusCode.UNAVAILABLE)
        self.until(lambda: self.daemon.parts().count("resume") == 2, "a resume")
        self.host.set_object("u1", class_name="person")
        self.until_final()
        self.assertEqual((len(self.refusals), len(self.daemon.edits())), (1, 3))

    def test_a_camera_and_options_that_are_refused_leave_the_rest(self):
        self.start(stage(u1=person(-5)))
        self.until_final()
        self.host.set_camera("cam", near=0.0)
        self.host.set_shot(options={"anim_hours": -1.0})
        self.host.set_object("u1", transforms=[at(0, 0, -50)])
        self.until(lambda: self.tiers()["u1"] == "PROXY", "the object's decision")
        self.assertEqual((self.refusals[0].handles, self.live.diverged, self.live.anything_diverged),
                         (("cam",), (), True))
        self.assertFalse(self.live.publishable)
        self.host.set_shot(options={"anim_hours": 3.0})
        self.host.set_camera("cam", near=0.5)
        self.until_final()
        session = self.daemon.only_session()
        self.assertEqual((session.header.cameras[0].near_m, session.options.anim_hours), (0.5, 3.0))

    def test_values_of_the_wrong_kind_are_a_refusal_with_their_field_and_what_follows_goes_on(self):
        self.start(stage(u1=person(-5), u2=person(-5, "walker")))
        self.until_final()
        self.host.set_object("u2", importance="very")
        self.until(lambda: bool(self.refusals), "the refusal")
        fault, = self.refusals[0].status.faults
        self.assertEqual((fault.field, fault.handle), ("objects[0].importance", "u2"))
        self.host.set_object("u2", importance=2.0, transforms=[at(0, 0, -50)])
        self.until_final()
        self.assertEqual((self.tiers()["u2"], self.daemon.begun), ("PROXY", 1))

    def test_a_host_that_raises_is_told_and_read_again_later(self):
        class Broken(DictHost):
            broken = True

            def read_object(self, handle):
                if handle == "u2" and self.broken:
                    raise RuntimeError("the scene is locked")
                return super().read_object(handle)

        self.start(Broken(stage(u1=person(-5), u2=person(-5, "walker"))))
        self.until(lambda: self.tiers() == {"u1": "FULL_RIG"}, "the other object's decision")
        self.assertEqual((self.refusals[0].what, self.refusals[0].handles), ("host", ("u2",)))
        self.assertIn("the scene is locked", self.refusals[0].status.text)
        self.assertFalse(self.live.publishable)
        self.host.broken = False
        self.host.set_object("u2")
        self.until_final()
        self.assertEqual(self.tiers(), {"u1": "FULL_RIG", "u2": "FULL_RIG"})

    def test_a_header_that_cannot_be_said_is_told_once_and_read_again_after_a_change(self):
        self.start(stage(u1=person(-5)) | {"frame_count": 0})
        self.until(lambda: bool(self.refusals), "the refusal")
        for _ in range(50):
            self.live.pump()
        self.assertEqual(len(self.refusals), 1)
        self.assertIn("frame_count: got 0, want at least 1", self.refusals[0].status.text)
        self.host.set_shot(frame_count=2)
        self.until_final()


    def test_a_ruling_that_cannot_be_said_keeps_nothing_else_back(self):
        self.start(stage(u1=person(-5)))
        self.until_final()
        self.host.set_shot(directives=[{"handle": "nobody", "bound": "EXACTLY", "tier": "PROXY"}])
        self.host.set_object("u1", transforms=[at(0, 0, -50)])
        self.until(lambda: self.tiers() == {"u1": "PROXY"}, "the object's decision")
        self.assertIn("directive: got handle 'nobody', want one of the host's objects",
                      self.refusals[0].status.text)
        self.assertEqual((self.live.diverged, self.live.anything_diverged), ((), True))
        self.host.set_shot(directives=[])
        self.until_final()

    def test_a_callback_that_raises_loses_nothing(self):
        self.start(stage(u1=person(-5)))
        self.until_final()
        future = self.live.what_if(removed=["u1"])
        raised = []

        def fail(state, text):
            raised.append(state)
            raise RuntimeError("the panel is closed")

        calm = self.live._callbacks
        self.live._callbacks = type(calm)(self.updates.append, self.refusals.append, fail)
        self.daemon.drop_streams(grpc.StatusCode.UNAVAILABLE)
        self.host.set_object("u1", transforms=[at(0, 0, -50)])
        caught = 0
        while not (self.live.publishable and future.done()):
            try:
                self.live.pump()
            except RuntimeError:
                caught += 1
        self.live._callbacks = calm
        self.assertGreater(caught, 0)
        self.assertLessEqual(caught, len(raised))
        self.assertEqual(self.tiers(), {"u1": "PROXY"})


if __name__ == "__main__":
    unittest.main()
