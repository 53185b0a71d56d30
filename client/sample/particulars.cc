// A house is solid but for the bays behind which somebody lives or a window is lit: an opening stands there, from
// before the front to well behind the inner face of the wall (its class is solid to 0.96 of the box), so that a tenant
// is seen through his window and nowhere else.
//
// The ferry's hull is closed up to a little under the deck: it hides the quay behind it and none of the passengers.
//
// Dusk: the low sun throws the shadows of one walker in twenty-five and one cart in eight along the quay into the
// picture while the camera tracks; one street lamp in six lights what is in frame; one gull in eight shows in the
// water. Whether they stand in frame themselves is left to chance: half of the market is off to the sides.

#include "client/sample/particulars.h"

#include <algorithm>
#include <set>
#include <string>

#include "client/sample/camera.h"

namespace scantling::sample {
namespace {

constexpr double kOpeningWidth_m = 1, kOpeningHeight_m = 1.3125;
constexpr double kBeforeFront_m = 0.02, kBehindFront_m = 0.4;
constexpr int kReapersOfAField = 4;

void SetPoint(double x, double y, double z, v1::Vector3* out) {
  out->set_x(x);
  out->set_y(y);
  out->set_z(z);
}

void AddOpenings(const Set& set, const Staged& house, int index, v1::Particulars* out) {
  std::set<int> bays;
  for (const Role role : {Role::kWindow, Role::kTenant}) {
    const int houses = set.counts[static_cast<int>(Role::kDwelling)];
    for (int in = index; in < set.counts[static_cast<int>(role)]; in += houses) bays.insert(BayOf(set, in));
  }
  const double front_m = house.box_max_m[2];
  for (const int bay : bays) {
    const Place middle = PlaceOfBay(bay);
    v1::Box& box = *out->add_openings();
    const double sill_m = middle.y_m + kSill_m;
    SetPoint(middle.x_m - kOpeningWidth_m / 2, sill_m, front_m - kBehindFront_m, box.mutable_min_m());
    SetPoint(middle.x_m + kOpeningWidth_m / 2, sill_m + kOpeningHeight_m, front_m + kBeforeFront_m,
             box.mutable_max_m());
  }
}

void AddHull(const Staged& ferry, v1::Particulars* out) {
  v1::Mesh& mesh = *out->mutable_occluder()->mutable_mesh();
  const float half_length_m = ferry.box_max_m[0] - 0.5f, half_width_m = ferry.box_max_m[2] - 0.25f;
  const float top_m = static_cast<float>(kFerryDeck_m) - 0.125f;
  for (int corner = 0; corner < 8; ++corner) {
    mesh.add_vertices_m((corner & 1) != 0 ? half_length_m : -half_length_m);
    mesh.add_vertices_m((corner & 2) != 0 ? top_m : 0);
    mesh.add_vertices_m((corner & 4) != 0 ? half_width_m : -half_width_m);
  }
  constexpr uint32_t kFaces[6][4] = {{0, 4, 6, 2}, {1, 3, 7, 5}, {0, 1, 5, 4},
                                     {2, 6, 7, 3}, {0, 2, 3, 1}, {4, 5, 7, 6}};
  for (const auto& face : kFaces) {
    for (const int k : {0, 1, 2, 0, 2, 3}) mesh.add_triangles(face[k]);
  }
}

// Over the first `share` of the shot.
void AddSight(v1::IndirectSight::Kind kind, double share, v1::FrameRange shot, v1::Particulars* out) {
  v1::IndirectSight& sight = *out->add_indirect();
  sight.set_kind(kind);
  v1::FrameRange& frames = *sight.add_frames();
  const int count = shot.last() - shot.first() + 1;
  frames.set_first(shot.first());
  frames.set_last(shot.first() + std::max(static_cast<int>(count * share), 1) - 1);
}

}  // namespace

bool FillParticulars(const Set& set, const Staged& object, int index, v1::FrameRange shot, v1::Particulars* out) {
  switch (object.role) {
    case Role::kDwelling:
      AddOpenings(set, object, index, out);
      return out->openings_size() > 0;
    case Role::kFerry:
      AddHull(object, out);
      return true;
    case Role::kPerson:
      if (index % 25 == 7) AddSight(v1::IndirectSight::SHADOW, 0.5, shot, out);
      return index % 25 == 7;
    case Role::kCart:
      if (index % 8 == 2) AddSight(v1::IndirectSight::SHADOW, kTrackShare, shot, out);
      return index % 8 == 2;
    case Role::kLamp:
      if (index % 6 == 1) AddSight(v1::IndirectSight::LIGHT, kTrackShare, shot, out);
      return index % 6 == 1;
    case Role::kGull:
      if (index % 8 == 3) AddSight(v1::IndirectSight::REFLECTION, 0.25, shot, out);
      return index % 8 == 3;
    case Role::kReaper:
      out->set_hold_group("hill/field_" + std::to_string(index / kReapersOfAField + 1));
      return true;
    default:
      return false;
  }
}

void AddBeats(v1::FrameRange shot, v1::Shot* out) {
  const int count = shot.last() - shot.first() + 1;
  for (const double share : {kTrackShare, kTrackShare + kWhipShare}) {
    const int after = static_cast<int>(share * count);
    if (after > 0 && after < count) out->add_beats(shot.first() + after);
  }
}

}  // namespace scantling::sample
