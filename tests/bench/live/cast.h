// The objects of the demonstration shot, and edits made of them.

#ifndef SCANTLING_TESTS_BENCH_LIVE_CAST_H_
#define SCANTLING_TESTS_BENCH_LIVE_CAST_H_

#include <cstddef>
#include <cstdint>
#include <random>
#include <string>
#include <vector>

#include "scantling/v1/assembly.pb.h"
#include "scantling/v1/scene.pb.h"

namespace scantling::bench {

inline constexpr int kFrames = 240;

// The demonstration shot in blocks, seed 1. The same series of calls makes the same edits. Not thread-safe.
class Cast {
 public:
  explicit Cast(int objects);

  const v1::Shot& header() const { return header_; }  // without objects
  size_t size() const { return objects_.size(); }
  double static_share() const;
  size_t occluders() const { return occluders_.size(); }

  // Everything, a block a part.
  std::vector<v1::ShotEdit> Everything() const;

  // `count` objects drawn at random, each moved by up to half a metre from where it first stood, along x and z, with
  // its whole path: none that hides anything; or such as hide (of the catalogue's inner boxes, or by what the shot
  // says).
  v1::ShotEdit MovePlain(int count);
  v1::ShotEdit MoveOccluders(int count);
  // An object the audience looks at, of the shot's points of interest: what every other object loses hangs on it.
  v1::ShotEdit MoveInterest() { return Move(interest_, 1); }
  // The camera over all frames, up to half a metre from its first path.
  v1::ShotEdit MoveCamera();
  // The shot's directives, and that one person drawn at random is made in full.
  v1::ShotEdit Rule();
  // `hours` times 0.99 to 1.01.
  v1::ShotEdit Budget(double hours);

 private:
  struct Place {
    uint32_t block, index;
    size_t id_from, pose_from;  // where its id and its poses begin in their columns
    int particular;             // place in the block's particulars; -1: none
  };

  void Index(const v1::ObjectBlock& block, uint32_t number);
  bool IsLookedAt(const std::string& id) const;
  v1::ShotEdit Move(const std::vector<size_t>& among, int count);
  void Append(const Place& place, v1::ObjectBlock& out);
  double Offset() { return std::uniform_real_distribution<double>(-0.5, 0.5)(random_); }

  v1::Shot header_;
  std::vector<v1::ObjectBlock> blocks_;
  std::vector<Place> objects_;
  std::vector<size_t> plain_, occluders_, interest_, persons_;
  std::mt19937_64 random_{1};
};

}  // namespace scantling::bench

#endif  // SCANTLING_TESTS_BENCH_LIVE_CAST_H_
