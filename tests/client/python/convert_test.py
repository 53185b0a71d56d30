"""Units, axes and numbering against hand arithmetic."""

import unittest
from array import array

from scantling_kit import (Axis, Box, Conventions, Converter, Directive, HostCamera, HostDataError,
                           HostObject, Mask, MatrixLayout, Options, Particulars, PointOfInterest, ShotHeader)
from scenes import at

# Column-major; a quarter turn to the left about the world's Z, then 100, 200, 300 along X, Y, Z.
TURNED_ABOUT_Z = [0, 1, 0, 0, -1, 0, 0, 0, 0, 0, 1, 0, 100, 200, 300, 1]


def converter(**conventions):
    return Converter(Conventions(**conventions), lambda handle, where: f"id of {handle}")


def thing(transforms, **fields):
    return HostObject("h", "porter", "person", Box((-1, -2, -3), (4, 5, 6)), transforms, **fields)


def camera(transforms, **fields):
    return HostCamera("c", "main", transforms, (36, 15), (2048, 853), **fields)


def point(matrix, p):
    """matrix p, column-major."""
    return [sum(matrix[4 * c + r] * p[c] for c in range(3)) + matrix[12 + r] for r in range(3)]


class Conversions(unittest.TestCase):

    def test_metres_y_up_columns_pass_unchanged(self):
        fields = converter().object(thing([TURNED_ABOUT_Z]), 12)
        self.assertEqual(fields["transform"]["matrices"], array("d", TURNED_ABOUT_Z))
        self.assertEqual(fields["box"],
                         {"min_m": {"x": -1, "y": -2, "z": -3}, "max_m": {"x": 4, "y": 5, "z": 6}})

    def test_centimetres_shrink_translation_and_box_and_leave_turns_and_scale(self):
        doubled = [2, 0, 0, 0, 0, 2, 0, 0, 0, 0, 2, 0, 100, 200, 300, 1]
        fields = converter(metres_per_unit=0.5).object(thing([doubled]), 12)
        # 100, 200, 300 half-metres are 50, 100, 150 m; the doubling stays, the box of half-metres is half as
        # large.
        self.assertEqual(list(fields["transform"]["matrices"]),
                         [2, 0, 0, 0, 0, 2, 0, 0, 0, 0, 2, 0, 50, 100, 150, 1])
        self.assertEqual(fields["box"]["max_m"], {"x": 2, "y": 2.5, "z": 3})

    def test_z_up_turns_a_place_by_minus_90_degrees_about_x(self):
        fields = converter(up_axis=Axis.Z).object(thing([at(1, 2, 3)]), 12)
        # One to the right, two ahead, three up; ahead is -Z with Y up.
        self.assertEqual(list(fields["transform"]["matrices"]), at(1, 3, -2))

    def test_z_up_turns_the_objects_own_axes_with_the_world(self):
        fields = converter(up_axis=Axis.Z).object(thing([TURNED_ABOUT_Z]), 12)
        # A turn about the old up axis is the same turn about the new one: X goes to -Z, Z to X. In columns:
        self.assertEqual(list(fields["transform"]["matrices"]),
                         [0, 0, -1, 0, 0, 1, 0, 0, 1, 0, 0, 0, 100, 300, -200, 1])
        # x stays, y is the old z, z is the old y negated: -5..2.
        self.assertEqual(fields["box"],
                         {"min_m": {"x": -1, "y": -3, "z": -5}, "max_m": {"x": 4, "y": 6, "z": 2}})

    def test_every_corner_lands_where_the_host_has_it(self):
        # Any affine matrix; a corner of the box through host then turn, and through the wire's matrix and
        # box.
        matrix = [0.5, 0.25, -1, 0, 2, -0.5, 0.125, 0, 0.75, 1, 3, 0, 7, -8, 9, 1]
        fields = converter(up_axis=Axis.Z, metres_per_unit=0.25).object(thing([matrix]), 1)
        host = point(matrix, (4, 5, 6))
        expected = [0.25 * host[0], 0.25 * host[2], -0.25 * host[1]]
        box = fields["box"]
        # The corner (4, 5, 6) is, turned, at largest x, largest y (old z) and smallest z (old y negated).
        corner = (box["max_m"]["x"], box["max_m"]["y"], box["min_m"]["z"])
        # All numbers are short binary fractions: nothing is rounded.
        self.assertEqual(point(fields["transform"]["matrices"], corner), expected)

    def test_a_camera_keeps_its_own_axes(self):
        # A host camera with Z up that looks ahead along +Y: own -Z is +Y, own +Y is +Z. On the wire it looks
        # along -Z with +Y up: the identity, but for its place.
        ahead = [1, 0, 0, 0, 0, 0, 1, 0, 0, -1, 0, 0, 10, 20, 30, 1]
        fields = converter(up_axis=Axis.Z, metres_per_unit=0.5).camera(camera([ahead]), "main", 1)
        self.assertEqual(list(fields["transform"]["matrices"]), at(5, 15, -10))

    def test_rows_are_columns_across(self):
        rows = [0, -1, 0, 100, 1, 0, 0, 200, 0, 0, 1, 300, 0, 0, 0, 1]
        fields = converter(matrix_layout=MatrixLayout.ROW_MAJOR).object(thing([rows]), 1)
        self.assertEqual(list(fields["transform"]["matrices"]), TURNED_ABOUT_Z)

    def test_lengths_of_a_perspective_camera_scale_and_film_does_not(self):
        fields = converter(metres_per_unit=0.5).camera(
            camera([at(0, 0, 0)], focal_mm=[35.0], near=4, far=1000, focus=[10, 12], offset=(1, 2),
                   f_number=2.8), "m", 2)
        self.assertEqual(
            [fields[name] for name in ("near_m", "far_m", "window_width", "window_height", "offset_x")],
            [2, 500, 36, 15, 1])
        self.assertEqual((list(fields["focal_mm"]), list(fields["focus_m"])), ([35.0], [5.0, 6.0]))

    def test_an_orthographic_window_is_a_length_on_stage(self):
        fields = converter(metres_per_unit=0.5).camera(
            camera([at(0, 0, 0)], orthographic=True, offset=(4, 6)), "m", 1)
        self.assertEqual([
            fields[name] for name in ("projection", "window_width", "window_height", "offset_x", "offset_y")
        ], ["ORTHOGRAPHIC", 18, 7.5, 2, 3])

    def test_frames_are_sent_in_the_shots_numbering_and_come_back_in_the_hosts(self):
        convert = converter(first_frame=0, sent_first_frame=1001)
        header = convert.header(ShotHeader("qy_010", 48, beats=[3], replaced=[(0, 2)],
                                           interest=[PointOfInterest(handle="h", frames=(4, 5))]), [], [])
        self.assertEqual(header["frames"], {"first": 1001, "last": 1048})
        self.assertEqual((header["beats"], header["replaced"]), ([1004], [{"first": 1001, "last": 1003}]))
        self.assertEqual(header["interest"],
                         [{"object_id": "id of h", "frames": {"first": 1005, "last": 1006}}])
        self.assertEqual(convert.to_host_frame(1048), 47)
        masked = convert.camera(camera([at(0, 0, 0)], masks=[Mask(0, 0.5, 1, 1, [(1, 1)])]), "m", 1)
        self.assertEqual(masked["masks"][0]["frames"], [{"first": 1002, "last": 1002}])

    def test_without_a_sent_frame_the_hosts_numbers_are_sent(self):
        self.assertEqual(converter(first_frame=1001).header(ShotHeader("q", 1), [], [])["frames"],
                         {"first": 1001, "last": 1001})

    def test_particulars_turn_and_count_too(self):
        given = Particulars(inner_box=0.0, openings=[Box((0, 0, 0), (1, 2, 3))],
                            indirect=[("SHADOW", [(1, 2)])], beats=[7])
        fields = converter(up_axis=Axis.Z,
                           sent_first_frame=101).object(thing([at(0, 0, 0)], particulars=given), 1)
        self.assertEqual(fields["particulars"]["openings"],
                         [{"min_m": {"x": 0, "y": 0, "z": -2}, "max_m": {"x": 1, "y": 3, "z": 0}}])
        self.assertEqual(fields["particulars"]["indirect"],
                         [{"kind": "SHADOW", "frames": [{"first": 101, "last": 102}]}])
        self.assertEqual((fields["particulars"]["beats"], fields["particulars"]["occluder"]),
                         ([107], {"inner_box": 0.0}))

    def test_what_was_not_given_is_not_sent(self):
        fields = converter().object(thing([at(0, 0, 0)]), 1)
        self.assertFalse({"importance", "complexity", "colour", "container_id", "particulars"} &
                         fields.keys())
        self.assertNotIn("anim_hours", converter().options(Options()))
        self.assertEqual(converter().options(Options(anim_hours=0.0, earlier={"h": "PROXY"}))["anim_hours"],
                         0.0)


class Faults(unittest.TestCase):

    def assert_fault(self, text, call):
        with self.assertRaises(HostDataError) as caught:
            call()
        self.assertIn(text, str(caught.exception))

    def test_each_says_where_what_was_got_and_what_was_wanted(self):
        self.assert_fault("metres_per_unit: got 0", lambda: converter(metres_per_unit=0))
        self.assert_fault("object 'porter': got 2 transforms, want 1 or 12",
                          lambda: converter().object(thing([at(0, 0, 0)] * 2), 12))
        self.assert_fault("object 'porter', transform 1: got 3 numbers, want 16",
                          lambda: converter().object(thing([at(0, 0, 0), [1, 2, 3]]), 2))
        self.assert_fault("camera 'main': got 0 transforms", lambda: converter().camera(camera([]), "m", 12))
        self.assert_fault("got 2 of handle, asset and class_name, want exactly one",
                          lambda: converter().directive(Directive("EXACTLY", "PROXY", handle="h", asset="a")))
        self.assert_fault(
            "got both or neither of handle and place",
            lambda: converter().header(ShotHeader("q", 1, interest=[PointOfInterest()]), [], []))
        self.assert_fault("frame_count: got 0, want at least 1",
                          lambda: converter().header(ShotHeader("q", 0), [], []))


if __name__ == "__main__":
    unittest.main()
