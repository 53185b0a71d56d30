// A block that owns its columns, for tests to fill and spoil.

#ifndef SCANTLING_TESTS_SCENE_BLOCK_MAKER_H_
#define SCANTLING_TESTS_SCENE_BLOCK_MAKER_H_

#include <string>
#include <string_view>
#include <vector>

#include "tests/scene/make_shot.h"

namespace scantling {

struct BlockMaker {
  std::string id_blob;
  std::vector<uint32_t> id_lengths, class_of, asset_of, container_of, colour, poses;
  std::vector<std::string_view> class_names = {"person", "vehicle", "dwelling"}, asset_names, container_ids;
  std::vector<float> importance, complexity, boxes, linear;
  std::vector<double> translation;

  std::vector<float> inner_box;
  std::vector<uint32_t> particular_of;
  std::vector<ParticularsSpec> particulars;

  // A still person of 0.5 x 1.8 x 0.25 m at (x, 0, 0). Only numbers a float holds exactly.
  void Add(std::string_view id, double x = 0) {
    id_blob += id;
    id_lengths.push_back(static_cast<uint32_t>(id.size()));
    class_of.push_back(0);
    boxes.insert(boxes.end(), {-0.25f, 0, -0.125f, 0.25f, 1.75f, 0.125f});
    linear.insert(linear.end(), {1, 0, 0, 0, 1, 0, 0, 0, 1});
    translation.insert(translation.end(), {x, 0, 0});
  }

  ObjectBlockView View() const {
    return {id_blob,       id_lengths,   class_names, class_of,   asset_names,   asset_of,
            container_ids, container_of, importance,  complexity, colour,        boxes,
            poses,         linear,       translation, inner_box,  particular_of, particulars};
  }
};

inline Built BuildBlock(const BlockMaker& block, ShotHeader header = MakeHeader(), SceneLimits limits = {}) {
  static const ClassCatalogue catalogue = MakeCatalogue();
  Built built;
  SceneBuilder builder(catalogue, limits, std::move(header), built.violations);
  builder.AddBlock(block.View(), "blocks[0]");
  built.count = builder.object_count();
  built.scene = builder.Finish();
  return built;
}

}  // namespace scantling

#endif  // SCANTLING_TESTS_SCENE_BLOCK_MAKER_H_
