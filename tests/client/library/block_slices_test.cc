// Slices of a block, put together again, are the block.

#include "client/library/block_slices.h"

#include <gtest/gtest.h>

#include <string>
#include <vector>

#include "absl/strings/str_cat.h"

namespace scantling::client {
namespace {

constexpr int kFrames = 3;

// Objects "o0", "o1", ...; every third one moves; classes, assets and containers in turn.
v1::ObjectBlock BlockOf(int objects) {
  v1::ObjectBlock block;
  for (const char* name : {"person", "gull"}) block.add_class_names(name);
  block.add_asset_ids("walker");
  for (int i = 0; i < objects; ++i) block.add_container_ids(absl::StrCat("c", i));
  for (int i = 0; i < objects; ++i) {
    const std::string id = absl::StrCat("o", i);
    block.mutable_id_blob()->append(id);
    block.add_id_lengths(static_cast<uint32_t>(id.size()));
    block.add_class_of(i % 2);
    block.add_asset_of(i % 2);
    block.add_container_of(i % 5 == 0 ? 0 : i + 1);
    for (int j = 0; j < 6; ++j) block.add_boxes_m(static_cast<float>(10 * i + j));
    block.add_inner_box(static_cast<float>(i) / 128);
    if (i % 4 == 0) {
      v1::ObjectBlock::Particular& particular = *block.add_particulars();
      particular.set_index(static_cast<uint32_t>(i));
      // Object 8 has particulars that say nothing.
      if (i != 8) particular.mutable_particulars()->set_hold_group(absl::StrCat("group of o", i));
    }
    const int poses = i % 3 == 0 ? kFrames : 1;
    block.add_poses(poses);
    for (int j = 0; j < 9 * poses; ++j) block.add_linear(static_cast<float>(1000 * i + j));
    for (int j = 0; j < 3 * poses; ++j) block.add_translation_m(1000.0 * i + j);
  }
  return block;
}

// Everything about each object, spelt out, so that blocks with different tables can be compared.
std::vector<std::string> Objects(const v1::ObjectBlock& block) {
  std::vector<std::string> out;
  size_t id_byte = 0;
  int pose = 0, particular = 0;
  for (int i = 0; i < block.id_lengths_size(); ++i) {
    std::string text = block.id_blob().substr(id_byte, block.id_lengths(i));
    id_byte += block.id_lengths(i);
    const int asset = static_cast<int>(block.asset_of(i)), container = static_cast<int>(block.container_of(i));
    absl::StrAppend(&text, " ", block.class_names(static_cast<int>(block.class_of(i))), " ",
                    asset == 0 ? "-" : block.asset_ids(asset - 1), " ",
                    container == 0 ? "-" : block.container_ids(container - 1));
    for (int j = 0; j < 6; ++j) absl::StrAppend(&text, " ", block.boxes_m(6 * i + j));
    absl::StrAppend(&text, " ", block.inner_box(i));
    if (particular < block.particulars_size() && block.particulars(particular).index() == static_cast<uint32_t>(i)) {
      absl::StrAppend(&text, " has ", block.particulars(particular++).particulars().ShortDebugString());
    }
    for (int p = 0; p < static_cast<int>(block.poses(i)); ++p, ++pose) {
      for (int j = 0; j < 9; ++j) absl::StrAppend(&text, " ", block.linear(9 * pose + j));
      for (int j = 0; j < 3; ++j) absl::StrAppend(&text, " ", block.translation_m(3 * pose + j));
    }
    out.push_back(text);
  }
  EXPECT_EQ(particular, block.particulars_size());  // all were for objects of the block, in their order
  return out;
}

TEST(SliceBlock, PiecesPutTogetherAreTheBlock) {
  const v1::ObjectBlock block = BlockOf(100);
  std::vector<std::string> together;
  int pieces = 0;
  ASSERT_TRUE(SliceBlock(block, kFrames, 1000, [&](const v1::ObjectBlock& piece) {
    EXPECT_TRUE(IsWellFormed(piece, kFrames));
    for (auto& object : Objects(piece)) together.push_back(object);
    ++pieces;
    return true;
  }));
  EXPECT_EQ(together, Objects(block));
  // 34 moving objects of 64 + 3 * 60 bytes and 66 still ones of 64 + 60, ids and particulars aside: 16,480 bytes in
  // pieces of at most 1000.
  EXPECT_GE(pieces, 17);
}

TEST(SliceBlock, ParticularsGoWithTheirObjects) {
  const v1::ObjectBlock block = BlockOf(9);
  // One object a piece: nothing fits into a byte.
  std::vector<std::string> groups;
  ASSERT_TRUE(SliceBlock(block, kFrames, 1, [&](const v1::ObjectBlock& piece) {
    EXPECT_EQ(piece.id_lengths_size(), 1);
    groups.push_back(piece.particulars_size() == 0 ? "-" : piece.particulars(0).particulars().hold_group());
    if (piece.particulars_size() > 0) {
      EXPECT_EQ(piece.particulars(0).index(), 0u);
    }
    return true;
  }));
  EXPECT_EQ(groups, (std::vector<std::string>{"group of o0", "-", "-", "-", "group of o4", "-", "-", "-", ""}));
}

TEST(SliceBlock, PiecesCountTheBytesOfParticulars) {
  v1::ObjectBlock block = BlockOf(4);
  block.mutable_particulars()->DeleteSubrange(0, block.particulars_size());
  for (uint32_t i = 0; i < 4; ++i) {
    v1::ObjectBlock::Particular& particular = *block.add_particulars();
    particular.set_index(i);
    for (int k = 0; k < 3000; ++k) {
      particular.mutable_particulars()->mutable_occluder()->mutable_mesh()->add_vertices_m(0.5f);
    }
  }
  // 12,000 bytes of vertices each, and less than 500 of all else: two in 25,000 bytes, three are too many.
  std::vector<int> sizes;
  ASSERT_TRUE(SliceBlock(block, kFrames, 25'000, [&](const v1::ObjectBlock& piece) {
    sizes.push_back(piece.id_lengths_size());
    return true;
  }));
  EXPECT_EQ(sizes, (std::vector<int>{2, 2}));
}

TEST(SliceBlock, PiecesHoldOnlyTheTablesTheyName) {
  ASSERT_TRUE(SliceBlock(BlockOf(100), kFrames, 1000, [&](const v1::ObjectBlock& piece) {
    EXPECT_LE(piece.container_ids_size(), piece.id_lengths_size());
    return true;
  }));
}

TEST(SliceBlock, BlockThatFitsIsLeftAlone) {
  int pieces = 0;
  SliceBlock(BlockOf(3), kFrames, 1 << 20, [&](const v1::ObjectBlock& piece) {
    EXPECT_EQ(piece.SerializeAsString(), BlockOf(3).SerializeAsString());
    ++pieces;
    return true;
  });
  EXPECT_EQ(pieces, 1);
}

TEST(SliceBlock, MalformedBlockGoesWholeForTheDaemonToRefuse) {
  v1::ObjectBlock block = BlockOf(100);
  block.set_class_of(7, 9);  // no such class
  EXPECT_FALSE(IsWellFormed(block, kFrames));
  int pieces = 0;
  SliceBlock(block, kFrames, 100, [&](const v1::ObjectBlock&) { return ++pieces > 0; });
  EXPECT_EQ(pieces, 1);
}

TEST(SliceBlock, StopsWhenTheReceiverDoes) {
  int pieces = 0;
  EXPECT_FALSE(SliceBlock(BlockOf(100), kFrames, 1000, [&](const v1::ObjectBlock&) { return ++pieces < 2; }));
  EXPECT_EQ(pieces, 2);
}

TEST(IsWellFormed, EveryColumnCounts) {
  const v1::ObjectBlock sound = BlockOf(10);
  ASSERT_TRUE(IsWellFormed(sound, kFrames));
  const auto breaks = [&](auto&& change) {
    v1::ObjectBlock block = sound;
    change(block);
    return !IsWellFormed(block, kFrames);
  };
  EXPECT_TRUE(breaks([](v1::ObjectBlock& b) { b.mutable_id_blob()->pop_back(); }));
  EXPECT_TRUE(breaks([](v1::ObjectBlock& b) { b.mutable_id_blob()->push_back('x'); }));
  EXPECT_TRUE(breaks([](v1::ObjectBlock& b) { b.mutable_boxes_m()->RemoveLast(); }));
  EXPECT_TRUE(breaks([](v1::ObjectBlock& b) { b.mutable_linear()->RemoveLast(); }));
  EXPECT_TRUE(breaks([](v1::ObjectBlock& b) { b.mutable_translation_m()->RemoveLast(); }));
  EXPECT_TRUE(breaks([](v1::ObjectBlock& b) { b.mutable_poses()->RemoveLast(); }));
  EXPECT_TRUE(breaks([](v1::ObjectBlock& b) { b.set_poses(0, 2); }));
  EXPECT_TRUE(breaks([](v1::ObjectBlock& b) { b.add_importance(1); }));
  EXPECT_TRUE(breaks([](v1::ObjectBlock& b) { b.set_container_of(1, 11); }));
  EXPECT_TRUE(breaks([](v1::ObjectBlock& b) { b.add_inner_box(1); }));
  EXPECT_FALSE(breaks([](v1::ObjectBlock& b) { b.clear_inner_box(); }));
  EXPECT_TRUE(breaks([](v1::ObjectBlock& b) { b.mutable_particulars(2)->set_index(10); }));
  EXPECT_TRUE(breaks([](v1::ObjectBlock& b) { b.mutable_particulars(2)->set_index(4); }));  // as the one before
}

}  // namespace
}  // namespace scantling::client
