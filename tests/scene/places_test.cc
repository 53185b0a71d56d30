#include "server/scene/places.h"

#include <gtest/gtest.h>

namespace scantling {
namespace {

TEST(Places, NamesRowsAndBlocksInAnyMixture) {
  Places places;
  places.AddRow("objects[0]");
  places.AddRow("objects[1]");
  places.AddBlock("blocks[0]", 3);
  places.AddRow("objects[2]");
  EXPECT_EQ(places.Of(0).Field("id", "id_lengths"), "objects[0].id");
  EXPECT_EQ(places.Of(1).Field("id", "id_lengths"), "objects[1].id");
  EXPECT_EQ(places.Of(2).Field("id", "id_lengths"), "blocks[0].id_lengths[0]");
  EXPECT_EQ(places.Of(4).Field("id", "id_lengths"), "blocks[0].id_lengths[2]");
  EXPECT_EQ(places.Of(5).Field("id", "id_lengths"), "objects[2].id");
}

TEST(Places, EmptyBlocksTakeNoPlace) {
  Places places;
  places.AddBlock("blocks[0]", 0);
  places.AddBlock("blocks[1]", 1);
  EXPECT_EQ(places.Of(0).Field("id", "id_lengths"), "blocks[1].id_lengths[0]");
}

TEST(Places, PathsThatDoNotCountUpKeepTheirOwnText) {
  Places places;
  for (const char* path :
       {"parts[3].objects[7]", "parts[4].objects[0]", "lamp", "odd[007]", "odd[9]", "odd[11]", "x]"}) {
    places.AddRow(path);
  }
  EXPECT_EQ(places.Of(0).path, "parts[3].objects[7]");
  EXPECT_EQ(places.Of(1).path, "parts[4].objects[0]");
  EXPECT_EQ(places.Of(2).path, "lamp");
  EXPECT_EQ(places.Of(3).path, "odd[007]");
  EXPECT_EQ(places.Of(4).path, "odd[9]");
  EXPECT_EQ(places.Of(5).path, "odd[11]");
  EXPECT_EQ(places.Of(6).path, "x]");
}

}  // namespace
}  // namespace scantling
