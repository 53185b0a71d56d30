"""Frames, ids, joined and merged updates, sessions: what the kit is made of, without processes."""

import io
import unittest
from array import array

from scantling_kit import PlanState, framing
from scantling_kit.backoff import Backoff
from scantling_kit.changes import Batch
from scantling_kit.host import Change
from scantling_kit.identity import IdRegistry
from scantling_kit.outbox import MergedUpdate, PartJoiner
from scantling_kit.session import MOST_IN_FLIGHT, Session


class Frames(unittest.TestCase):

    def test_what_is_written_is_read(self):
        header = {
            "do": "send", "numbers": array("d", [1.5, -0.0, 1e308]), "list": [{"inner": array("d", [0.1])},
                                                                              None, "é"]
        }
        stream = io.BytesIO()
        framing.write(stream, header)
        framing.write(stream, {"second": 2})
        stream.seek(0)
        self.assertEqual(framing.read(stream), header)
        self.assertEqual(framing.read(stream), {"second": 2})
        self.assertIsNone(framing.read(stream))

    def test_numbers_that_are_none_travel_as_they_are(self):
        got = framing.read(io.BytesIO(framing.encode({"n": array("d", [float("nan"), float("inf")])})))
        self.assertEqual(str(got), "{'n': array('d', [nan, inf])}")

    def test_a_frame_cut_anywhere_is_an_error_and_not_an_end(self):
        data = framing.encode({"numbers": array("d", [1.0, 2.0])})
        for length in range(1, len(data)):
            with self.assertRaises(framing.FramingError, msg=f"cut at {length}"):
                framing.read(io.BytesIO(data[:length]))

    def test_noise_is_an_error(self):
        for noise in (b"Traceback (most recent call last)", b"\x02\0\0\0\0\0\0\0[]", b"\x01\0\0\0\0\0\0\0{"):
            with self.assertRaises(framing.FramingError, msg=noise):
                framing.read(io.BytesIO(noise))

    def test_what_no_frame_can_carry_is_refused(self):
        with self.assertRaises(TypeError):
            framing.encode({"set": {1, 2}})


class Ids(unittest.TestCase):

    def test_a_rename_keeps_the_id(self):
        ids = IdRegistry()
        self.assertEqual(ids.id_of(1, "porter"), "porter")
        self.assertEqual(ids.id_of(1, "head porter"), "porter")
        self.assertEqual((ids.name_of(1), ids.handle_of("porter")), ("head porter", 1))

    def test_a_name_that_is_taken_gets_a_number_even_when_its_owner_is_called_otherwise_now(self):
        ids = IdRegistry()
        ids.id_of(1, "porter")
        ids.id_of(1, "head porter")
        self.assertEqual([ids.id_of(handle, "porter") for handle in (2, 3)], ["porter#2", "porter#3"])
        self.assertEqual(ids.id_of(4, "porter#2"), "porter#2#2")
        self.assertEqual(ids.id_of(5, "head porter"), "head porter")

    def test_names_without_end_or_without_characters(self):
        ids = IdRegistry()
        self.assertEqual(ids.id_of(1, ""), "object")
        # 500 letters of two bytes are 1,000 bytes: the most.
        self.assertEqual(ids.id_of(2, "é" * 600), "é" * 500)
        self.assertEqual(ids.id_of(3, "é" * 700), "é" * 500 + "#2")


class Updates(unittest.TestCase):

    def test_parts_are_one_update_with_the_last(self):
        joiner = PartJoiner()
        self.assertIsNone(
            joiner.add({"number": 3, "continues": True, "anew": True, "gone_ids": ["x"], "decisions": [1,
                                                                                                       2]}))
        self.assertIsNone(joiner.add({"number": 3, "continues": True, "decisions": [3]}))
        self.assertEqual(
            joiner.add({"number": 3, "decisions": [4], "summary": {}}), {
                "number": 3, "continues": True, "anew": True, "gone_ids": ["x"], "decisions": [1, 2, 3, 4],
                "summary": {}
            })

    def test_what_a_broken_stream_left_is_dropped(self):
        joiner = PartJoiner()
        joiner.add({"number": 3, "continues": True, "decisions": [1]})
        joiner.drop()
        self.assertEqual(joiner.add({"number": 3, "decisions": [2]})["decisions"], [2])

    @staticmethod
    def settled(revision, decisions=(), gone=(), **fields):
        return dict(
            {
                "state": "FINAL", "number": revision, "revision": revision, "gone_ids": list(gone),
                "summary": {}, "decisions": [{"object_id": name, "tier": tier} for name, tier in decisions]
            }, **fields)

    def test_later_decisions_stand_over_earlier_ones(self):
        merged = MergedUpdate()
        merged.merge(self.settled(1, [("a", "PROXY"), ("b", "PROXY"), ("c", "PROXY")]), 1, False)
        merged.merge(self.settled(2, [("a", "OMITTED")], gone=["b"]), 2, False)
        merged.merge(self.settled(3, [("d", "PROXY")], gone=["c"]), 3, False)
        merged.merge(self.settled(4, [("c", "FULL_RIG")]), 4, False)
        self.assertEqual({name: fields["tier"] for name, fields in merged.decisions.items()},
                         {"a": "OMITTED", "c": "FULL_RIG", "d": "PROXY"})
        self.assertEqual((merged.gone, merged.revision, merged.answered_batch), ({"b"}, 4, 4))

    def test_anew_forgets_what_waited(self):
        merged = MergedUpdate()
        merged.merge(self.settled(1, [("a", "PROXY")], gone=["b"]), 1, False)
        merged.merge(self.settled(1, [("c", "PROXY")]), 2, True)
        self.assertEqual((list(merged.decisions), merged.gone, merged.anew), (["c"], set(), True))

    def test_a_settled_update_overtakes_first_looks_and_a_first_look_leaves_decisions(self):
        merged = MergedUpdate()
        look = {"state": "PROVISIONAL", "revision": 2, "quick": [{"object_id": "a", "tier": "PROXY"}]}
        merged.merge(look, 1, False)
        merged.merge(self.settled(2, [("a", "OMITTED")]), 2, False)
        self.assertEqual((merged.quick, merged.state), ({}, PlanState.FINAL))
        merged.merge(dict(look, revision=3), 3, False)
        self.assertEqual((list(merged.quick), list(merged.decisions), merged.state),
                         (["a"], ["a"], PlanState.PROVISIONAL))


def batch(number, objects=(), removed=(), epoch=1, everything=False, **above):
    fields = {name: {"id": name, "transform": {"matrices": array("d", [0.0] * 16)}} for name in objects}
    return Batch(number, epoch, everything, fields, set(removed), **above)


def begun(objects=("a", "b")):
    """A session with one edit in flight."""
    session = Session()
    session.take(batch(1, objects, everything=True, header={"shot_id": "q"}, options={}, current_frame=7))
    session.started({"session_id": "s1"})
    return session


class Sessions(unittest.TestCase):

    def test_the_whole_shot_becomes_a_beginning_and_the_first_edit(self):
        session = Session()
        self.assertFalse(session.ready)
        edit = session.take(
            batch(1, ["a"], everything=True, header={"shot_id": "q"}, options={}, current_frame=7))
        self.assertEqual(session.first_message(),
                         {"begin": {"header": {"shot_id": "q"}, "options": {}, "current_frame": 7}})
        self.assertEqual((edit.revision, edit.objects), (1, ["a"]))
        self.assertNotIn("header", edit.messages[0]["edit"])

    def test_an_edit_in_flight_is_sent_again_after_resume_unless_it_was_taken_in(self):
        session = begun()
        session.updated(1, 1)
        session.take(batch(2, ["a"]))
        session.take(batch(3, ["b"]))
        self.assertEqual(session.first_message(), {"resume": {"session_id": "s1", "update": 1}})
        edits = session.started({"session_id": "s1", "resumed": True, "revision": 2})
        self.assertEqual([edit.revision for edit in edits], [3])
        # Whether revision 2 was taken in or refused is still to come.
        self.assertEqual([edit.revision for edit in session.in_flight], [2, 3])

    def test_no_further_batch_is_wanted_while_several_edits_are_unanswered(self):
        session = begun()
        for number in range(2, MOST_IN_FLIGHT + 1):
            self.assertTrue(session.wants_changes)
            session.take(batch(number, ["a"]))
        self.assertFalse(session.wants_changes)
        session.updated(1, 1)
        self.assertTrue(session.wants_changes)

    def test_batches_read_for_a_lost_session_are_void(self):
        session = begun()
        session.lose()
        self.assertIsNone(session.take(batch(2, ["a"], epoch=1)))
        self.assertFalse(session.ready)

    def test_only_what_the_daemon_has_is_removed(self):
        session = begun()
        edit = session.take(batch(2, [], ["a", "never sent"]))
        self.assertEqual(edit.removed, ["a"])
        self.assertIsNone(session.take(batch(3, [], ["a"])))

    def test_a_refusal_parts_the_faulty_from_the_innocent(self):
        session = begun()
        session.updated(1, 1)
        edit = session.take(batch(2, ["a", "b", "c"], options={"anim_hours": 1}))
        refused, remains = session.refused(2, ["objects[1].class_name", "objects[1].box"])
        self.assertIs(refused, edit)
        self.assertEqual((remains.diverged, remains.again, remains.again_parts),
                         ({"b"}, {"a", "c"}, {Change.OPTIONS}))
        # c never came to the daemon.
        self.assertIsNone(session.take(batch(3, [], ["c"])))

    def test_faults_that_name_nothing_leave_all_of_it_diverged(self):
        session = begun()
        session.updated(1, 1)
        session.take(batch(2, ["a", "b"]))
        _, remains = session.refused(2, ["objects"])
        self.assertEqual((remains.diverged, remains.again), ({"a", "b"}, set()))

    def test_what_a_later_edit_carries_is_left_to_that(self):
        session = begun()
        session.updated(1, 1)
        session.take(batch(2, ["a", "b"]))
        session.take(batch(3, ["a"]))
        _, remains = session.refused(2, ["objects[0].class_name"])
        self.assertEqual((remains.diverged, remains.again), (set(), {"b"}))

    def test_what_an_earlier_edit_carries_is_not_left_to_that(self):
        session = begun()
        session.updated(1, 1)
        session.take(batch(2, ["a"]))
        session.take(batch(3, ["a", "b"]))
        # The helper refuses what it cannot write before the daemon has answered the edit ahead of it.
        _, remains = session.refused(3, ["objects[1].importance"])
        self.assertEqual((remains.again, remains.diverged), ({"a"}, {"b"}))

    def test_a_fault_of_the_header_is_about_what_this_edit_did_to_it(self):
        session = begun()
        session.updated(1, 1)
        header = {"cameras": [{"id": "left"}, {"id": "right"}]}
        session.take(batch(2, ["a"], header=header, directives=None))
        _, remains = session.refused(2, ["cameras[1].near_m", "frames.last"])
        self.assertEqual((remains.diverged_parts, remains.again), ({Change.HEADER}, {"a"}))
        # Cameras are counted in the whole shot; this edit has the second alone.
        session.take(batch(3, ["a"], header=header))
        session.updated(3, 2)
        session.take(batch(4, ["a"], cameras={"right": {"id": "right"}}))
        _, remains = session.refused(4, ["cameras[1].near_m"])
        self.assertEqual((remains.diverged_cameras, remains.diverged_parts, remains.again),
                         ({"right"}, set(), {"a"}))
        # A directive of before names what is removed now.
        session.take(batch(5, ["a"], ["b"]))
        _, remains = session.refused(5, ["directives[0].object_id"])
        self.assertEqual((remains.diverged, remains.again), ({"b"}, {"a"}))

    def test_everything_sent_again_removes_what_the_host_has_not(self):
        session = begun()
        session.updated(1, 1)
        edit = session.take(batch(2, ["b"], everything=True, header={"shot_id": "q"}, options={}))
        self.assertEqual((edit.objects, edit.removed, edit.messages[0]["edit"]["header"]),
                         (["b"], ["a"], {"shot_id": "q"}))

    def test_a_large_edit_goes_in_parts_of_one_revision(self):
        session = Session()
        edit = session.take(
            batch(1, [f"o{index}" for index in range(600)], everything=True, header={}, options={}))
        parts = [message["edit"] for message in edit.messages]
        # 16 numbers an object and 60,000 a part would be 3,750 objects; 250 is the lower limit: 250 + 250 +
        # 100.
        self.assertEqual([len(part["objects"]) for part in parts], [250, 250, 100])
        self.assertEqual([part["continues"] for part in parts], [True, True, False])
        self.assertEqual({part["revision"] for part in parts}, {1})


class Pauses(unittest.TestCase):

    def test_they_double_up_to_five_seconds_and_start_over(self):
        longest, shortest = Backoff(lambda least, most: most), Backoff(lambda least, most: least)
        self.assertEqual([longest.pause_s() for _ in range(8)], [0.1, 0.2, 0.4, 0.8, 1.6, 3.2, 5.0, 5.0])
        self.assertEqual([shortest.pause_s() for _ in range(2)], [0.05, 0.1])
        longest.reset()
        self.assertEqual(longest.pause_s(), 0.1)
        self.assertEqual(longest.pause_s(30.0), 30.0)

    def test_no_two_kits_come_back_in_the_same_moment(self):
        # Ten draws from an interval of doubles: alike once in some 10^150 runs.
        self.assertGreater(len({Backoff().pause_s() for _ in range(10)}), 1)


if __name__ == "__main__":
    unittest.main()
