// The binary form: what protobuf itself wrote passes, and hand-made bytes are refused where they go wrong.

#include "client/library/wire_check.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <random>

#include "client/library/memory_limit.h"
#include "scantling/v1/scene.pb.h"

namespace scantling::client {
namespace {

using testing::HasSubstr;

absl::Status Check(std::string_view bytes) { return CheckWire(bytes, *v1::Shot::descriptor()); }

std::string MessageOf(const absl::Status& status) { return std::string(status.message()); }

v1::Shot FullShot() {
  v1::Shot shot;
  shot.set_shot_id("qy_0100");
  shot.mutable_frames()->set_first(-5);
  v1::SceneObject* object = shot.add_objects();
  object->set_id("fähre");
  object->set_importance(2.5);
  object->mutable_transform()->add_matrices(1);
  object->add_measured()->add_height_px(3);
  v1::Particulars* particulars = object->mutable_particulars();
  particulars->mutable_occluder()->mutable_mesh()->add_vertices_m(0.5f);
  particulars->mutable_occluder()->mutable_mesh()->add_triangles(300);
  particulars->add_openings()->mutable_min_m()->set_x(1);
  particulars->add_indirect()->set_kind(v1::IndirectSight::LIGHT);
  particulars->set_hold_group("wehr");
  particulars->add_beats(-3);
  shot.add_cameras()->add_masks()->add_frames()->set_last(7);
  shot.add_replaced()->set_first(2);
  v1::ObjectBlock* block = shot.add_blocks();
  block->add_inner_box(-1);
  block->add_particulars()->set_index(3);
  block->set_id_blob("ab");
  block->add_id_lengths(2);
  block->add_colour(0x01FF0000);
  return shot;
}

TEST(CheckWire, WhatProtobufWritesPasses) {
  EXPECT_TRUE(Check(FullShot().SerializeAsString()).ok());
  EXPECT_TRUE(Check("").ok());
}

TEST(CheckWire, UnpackedNumbersPassAsProtobufReadsThem) {
  // cameras (5) { focal_mm (7) as one eight-byte number: tag 7 << 3 | 1 }
  const std::string bytes("\x2A\x09\x39\0\0\0\0\0\0\x41\x40", 11);
  EXPECT_TRUE(Check(bytes).ok());
  v1::Shot shot;
  ASSERT_TRUE(shot.ParseFromString(bytes));
  EXPECT_EQ(shot.cameras(0).focal_mm(0), 34.0);  // 0x4041000000000000
}

TEST(CheckWire, UnknownFieldIsRefusedWithItsPlace) {
  // objects (10) { field 100, varint 1 }: tag 100 << 3 = 800 = 0xA0 0x06
  const absl::Status status = Check(std::string("\x52\x03\xA0\x06\x01", 5));
  EXPECT_EQ(status.code(), absl::StatusCode::kInvalidArgument);
  EXPECT_THAT(MessageOf(status), HasSubstr("objects[0]: got field number 100, which scantling.v1.SceneObject"));
}

TEST(CheckWire, TextThatIsNoUtf8IsRefused) {
  EXPECT_THAT(MessageOf(Check("\x0A\x01\xFF")), HasSubstr("at byte 2, shot_id: is no UTF-8"));
}

TEST(CheckWire, WrongKindIsRefused) {
  // shot_id (1) as a varint
  EXPECT_THAT(MessageOf(Check(std::string("\x08\x01", 2))), HasSubstr("shot_id: got wire kind 0, want 2"));
}

TEST(CheckWire, LengthBeyondTheEndIsRefused) {
  EXPECT_THAT(MessageOf(Check("\x0A\x7F")), HasSubstr("shot_id: cut short"));
}

TEST(CheckWire, EveryCutOfAShotEitherPassesOrSaysWhere) {
  const std::string whole = FullShot().SerializeAsString();
  for (size_t size = 0; size < whole.size(); ++size) {
    const std::string cut = whole.substr(0, size);
    v1::Shot shot;
    // Where protobuf can read the cut (between fields), so can we; where it cannot, neither do we.
    EXPECT_EQ(Check(cut).ok(), shot.ParseFromString(cut)) << size;
  }
}

TEST(CheckWire, RandomBytesNeverPassWhatProtobufRefuses) {
  std::mt19937 random(7);
  const std::string whole = FullShot().SerializeAsString();
  for (int round = 0; round < 20'000; ++round) {
    std::string bytes = whole;
    for (int i = 0; i < 3; ++i) bytes[random() % bytes.size()] = static_cast<char>(random());
    v1::Shot shot;
    if (Check(bytes).ok()) {
      EXPECT_TRUE(shot.ParseFromString(bytes)) << round;
    }
  }
}

TEST(CheckWire, ManyEmptyMessagesAreRefusedBeforeTheyAreMade) {
  // "cameras, 0 bytes" is two bytes and becomes a message of some hundred.
  const int64_t count = kMostShotMemoryBytes / static_cast<int64_t>(v1::ShotCamera().SpaceUsedLong()) + 1;
  std::string bytes;
  bytes.reserve(static_cast<size_t>(2 * count));
  for (int64_t i = 0; i < count; ++i) bytes.append("\x2A\0", 2);
  EXPECT_EQ(Check(bytes).code(), absl::StatusCode::kResourceExhausted);
}

}  // namespace
}  // namespace scantling::client
