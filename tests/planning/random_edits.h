// Random series of edits of a shot, as messages, with the shot as it then is: what a session must come to.

#ifndef SCANTLING_TESTS_PLANNING_RANDOM_EDITS_H_
#define SCANTLING_TESTS_PLANNING_RANDOM_EDITS_H_

#include <cstdint>
#include <random>
#include <string>
#include <vector>

#include "scantling/v1/assembly.pb.h"
#include "scantling/v1/scene.pb.h"

namespace scantling::testing {

// The demonstration shot in a small picture: rows.
v1::Shot Pool(int objects, int frames, uint64_t seed);

class RandomEdits {
 public:
  // `pool`: a shot of rows whose objects come and go; the series starts with about half of them.
  RandomEdits(v1::Shot pool, uint64_t seed);

  // The shot after all edits so far.
  const v1::Shot& shot() const { return shot_; }
  // All of it but its objects.
  v1::Shot Header() const;
  // What brings the objects there are at the start.
  v1::ShotEdit First() const;

  // One more edit, of one to a few changes; never a faulty one. Without revision.
  v1::ShotEdit Next();

 private:
  int Below(int n) { return static_cast<int>(random_() % static_cast<uint64_t>(n)); }
  double Between(double least, double most) {
    return least + (most - least) * static_cast<double>(random_() >> 11) / 9007199254740992.0;
  }
  int Find(const std::string& id) const;
  bool IsNamed(const std::string& id) const;
  int People() const;
  void Put(const v1::SceneObject& object, v1::ShotEdit& edit);

  void MoveObject(v1::ShotEdit& edit);
  void AlterObject(v1::ShotEdit& edit);
  void AddObjects(v1::ShotEdit& edit);
  void RemoveObjects(v1::ShotEdit& edit);
  void Rehouse(v1::ShotEdit& edit);
  void AlterParticulars(v1::ShotEdit& edit);
  void MoveCamera(v1::ShotEdit& edit);
  void AlterHeader(v1::ShotEdit& edit);
  void CutLastFrame();
  void Rule(v1::ShotEdit& edit);

  v1::Shot pool_, shot_;
  std::mt19937_64 random_;
};

}  // namespace scantling::testing

#endif  // SCANTLING_TESTS_PLANNING_RANDOM_EDITS_H_
