// An object hides by its inner box (its own, else its class's) or by a mesh, never by both, and only where it has a box
// to hide by and its class is not seen through. What was sent is resolved here once, so that hiding asks one column.
//
// The shot's own beats and drawings are taken into those of an object only where it sent some: a shot may have ten
// thousand beats and a million objects in one hold group. What the lists of all objects come to is limited for the same
// reason: an object that sends one beat keeps the shot's ten thousand.

#include "server/scene/particulars.h"

#include <algorithm>
#include <iterator>
#include <utility>

#include "absl/strings/str_cat.h"
#include "server/scene/frame_lists.h"

namespace scantling {
namespace {

constexpr char kShare[] = "a share of the box, 0 to 1";
constexpr char kShareOrClass[] = "a share of the box, 0 to 1, or below 0: its class's";

std::vector<int32_t> UniteBeats(const std::vector<int32_t>& a, const std::vector<int32_t>& b) {
  std::vector<int32_t> both;
  std::set_union(a.begin(), a.end(), b.begin(), b.end(), std::back_inserter(both));
  return both;
}

}  // namespace

std::string ParticularsCheck::At(const std::string& field) const {
  return absl::StrCat(input.particulars_path, ".", field);
}

bool ParticularsCheck::Within(const std::string& field, int64_t so_far, int64_t most, const char* what) const {
  if (so_far <= most) return true;
  return Fault(field,
               [&] { return absl::StrCat("got ", so_far, " ", what, " so far, want at most ", most, " in a shot"); });
}

bool ParticularsCheck::SeenThrough(const std::string& field, const std::string& got) const {
  if (object_class == nullptr || object_class->solidity >= catalogue.occluder_least_solidity) return true;
  AddFault(
      violations, [&] { return field; },
      [&] {
        return absl::StrCat("got ", got, " for class ", object_class->name, ", whose solidity ", object_class->solidity,
                            " is under the catalogue's occluder_least_solidity ", catalogue.occluder_least_solidity,
                            ", want none: it is seen through");
      });
  return false;
}

bool ParticularsCheck::HasGeometry(const std::string& field, const std::string& got) const {
  if (geometry != Geometry::kNone) return true;
  AddFault(
      violations, [&] { return field; },
      [&] { return absl::StrCat("got ", got, " without a box and its matrices, want both"); });
  return false;
}

bool ParticularsCheck::Share(const std::string& field, double sent, const char* want) const {
  if (sent >= 0 && sent <= 1) {
    const std::string got = absl::StrCat("inner_box ", sent);
    return sent == 0 || (HasGeometry(field, got) && SeenThrough(field, got));
  }
  AddFault(
      violations, [&] { return field; }, [&] { return GotNumber(sent, want); });
  return false;
}

// A block's column and an occluder among its particulars would be two answers to one question.
bool ParticularsCheck::ColumnBesideOccluder() const {
  const bool occluder = input.particulars != nullptr && (input.particulars->inner_box || input.particulars->mesh);
  if (!occluder || !input.inner_box) return true;
  AddFault(
      violations, [&] { return input.Field("", "inner_box"); },
      [&] { return GotNumber(*input.inner_box, absl::StrCat("below 0 where there is ", At("occluder"))); });
  return false;
}

bool ParticularsCheck::InnerBox(float& inner_box) const {
  const ParticularsSpec* own = input.particulars;
  bool good = ColumnBesideOccluder();
  std::optional<double> sent;
  if (input.inner_box) {
    good = Share(input.Field("", "inner_box"), *input.inner_box, kShareOrClass) && good;
    sent = input.inner_box;
  }
  if (own != nullptr && own->inner_box) {
    good = Share(At("occluder.inner_box"), *own->inner_box, kShare) && good;
    sent = own->inner_box;
  }
  const bool seen_through = object_class == nullptr || object_class->solidity < catalogue.occluder_least_solidity;
  const bool by_box = geometry == Geometry::kGood && !seen_through && !(own != nullptr && own->mesh);
  inner_box = by_box ? static_cast<float>(sent.value_or(object_class->inner_box)) : 0.0f;
  return good;
}

bool ParticularsCheck::Indirect(std::vector<IndirectSight>& indirect) const {
  const std::vector<IndirectSpec>& sent = input.particulars->indirect;
  if (sent.size() > limits.indirect_sights) {
    return Fault("indirect", [&] { return GotCount(sent.size(), absl::StrCat("at most ", limits.indirect_sights)); });
  }
  const size_t before = violations.count();
  for (size_t i = 0; i < sent.size(); ++i) {
    const std::string field = At(absl::StrCat("indirect[", i, "].frames"));
    IndirectSight sight = {sent[i].kind, CheckFrames(sent[i].frames, scene.frames, field, violations), false};
    sight.whole_shot = sent[i].frames.empty();
    if (sight.whole_shot && scene.frames.count() > 0) sight.frames = {scene.frames};
    tally.frame_marks += static_cast<int64_t>(sight.frames.size());
    indirect.push_back(std::move(sight));
  }
  return violations.count() == before &&
         Within("indirect", tally.frame_marks, limits.frame_marks, "beats and ranges of frames");
}

bool ParticularsCheck::Breaks(Particulars& out) const {
  const ParticularsSpec& sent = *input.particulars;
  const size_t before = violations.count();
  const FrameSpans replaced = CheckFrames(sent.replaced, scene.frames, At("replaced"), violations);
  const std::vector<int32_t> beats = CheckBeats(sent.beats, scene.frames, At("beats"), limits, violations);
  const auto take_in = [&](const char* field, size_t own, size_t shots) {
    if (own == 0) return false;
    tally.frame_marks += static_cast<int64_t>(own + shots);
    return Within(field, tally.frame_marks, limits.frame_marks, "beats and ranges of frames");
  };
  if (take_in("replaced", replaced.size(), scene.replaced.size())) out.replaced = UniteSpans(replaced, scene.replaced);
  if (take_in("beats", beats.size(), scene.beats.size())) out.beats = UniteBeats(beats, scene.beats);
  out.own_replaced = replaced;
  out.own_beats = beats;
  return violations.count() == before;
}

bool ParticularsCheck::Read(Particulars& out) const {
  bool good = Mesh(out.mesh);
  good = Openings(out.openings) && good;
  good = Indirect(out.indirect) && good;
  return Breaks(out) && good;
}

}  // namespace scantling
