// The import, step by step: load, hierarchy, channels, frames, cameras, poses, objects.
//
// Each step adds its faults to one list and the import goes on as long as the next step can still make sense of what
// there is, so that a file's faults are told together. Objects are written as they are made; what is held meanwhile is
// one matrix per moving node and frame. Sizes that a small file can ask for (frames, instances, poses) are checked
// against the limits of import_gltf.h before room is made for them.

#include "client/import/import_gltf.h"

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <utility>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_replace.h"
#include "client/import/accessor.h"
#include "client/import/animation.h"
#include "client/import/camera.h"
#include "client/import/hierarchy.h"
#include "client/import/instancing.h"
#include "client/import/labels.h"
#include "client/import/load.h"
#include "client/import/object_writer.h"
#include "client/import/poses.h"

namespace scantling {
namespace {

using import::Notes;

constexpr int kMostPixels = 65'536;
constexpr int64_t kMostRows = 20'000;
constexpr int64_t kMostRowPoses = 1'000'000;
constexpr int64_t kMostNodeFrames = 10 * kMostGltfPoses;  // visits of moving nodes, whether objects hang on them or not
constexpr double kKeyTolerance_frames = 1e-4;  // a last key this little after a frame belongs to it (float key times)

// What is known of a mesh: its box, if it has one with some extent.
using MeshBoxes = std::vector<std::optional<import::Bounds>>;

class Importer {
 public:
  Importer(import::LoadedGltf loaded, const GltfImportOptions& options)
      : loaded_(std::move(loaded)), model_(loaded_.model), options_(options), classes_(options) {}

  absl::StatusOr<GltfImport> Run() {
    Prepare();
    if (!faults_.empty()) return import::FaultsStatus(faults_);
    times_ = {CountFrames(), static_cast<double>(options_.rate_numerator) / options_.rate_denominator};
    if (faults_.empty()) CheckLimits();
    if (!faults_.empty()) return import::FaultsStatus(faults_);
    poses_ = import::EvaluatePoses(model_, hierarchy_, channels_, Wanted(), times_, &faults_, &warnings_);
    if (!faults_.empty()) return import::FaultsStatus(faults_);
    SetFacts();
    AddCameras();
    AddObjects();
    if (!faults_.empty()) return import::FaultsStatus(faults_);
    Report();
    return std::move(result_);
  }

  // The first half of Run: everything that does not depend on frames.
  void Prepare() {
    hierarchy_ = import::BuildHierarchy(model_, &faults_);
    channels_ = import::ReadChannels(model_, &faults_, &warnings_);
    ReadBoxes();
    if (!faults_.empty()) return;
    animated_ = import::FindAnimated(hierarchy_, channels_);
    cameras_ = import::FindCameras(model_, hierarchy_, animated_);
    chosen_ = import::ChooseCameras(cameras_, options_, &faults_, &warnings_);
    for (const import::SceneCamera& camera : cameras_) result_.cameras.push_back(camera.facts);
  }

  const Notes& faults() const { return faults_; }
  const std::vector<GltfCamera>& cameras() const { return result_.cameras; }

 private:
  // Boxes of all meshes; an accessor that several share is read once.
  void ReadBoxes() {
    MeshBoxes read(model_.accessors.size());
    std::vector<bool> known(model_.accessors.size(), false);
    boxes_.resize(model_.meshes.size());
    for (size_t m = 0; m < model_.meshes.size(); ++m) {
      for (const tinygltf::Primitive& primitive : model_.meshes[m].primitives) {
        const auto position = primitive.attributes.find("POSITION");
        if (position == primitive.attributes.end()) continue;
        const int accessor = position->second;
        if (!known[accessor]) read[accessor] = import::PositionBounds(model_, accessor, &faults_);
        known[accessor] = true;
        if (read[accessor].has_value()) Extend(*read[accessor], &boxes_[m]);
      }
      if (boxes_[m].has_value() && !HasExtent(*boxes_[m])) boxes_[m].reset();
    }
  }

  static void Extend(const import::Bounds& by, std::optional<import::Bounds>* box) {
    if (!box->has_value()) *box = by;
    for (int axis = 0; axis < 3; ++axis) {
      (*box)->min_m[axis] = std::min((*box)->min_m[axis], by.min_m[axis]);
      (*box)->max_m[axis] = std::max((*box)->max_m[axis], by.max_m[axis]);
    }
  }

  // A card is zero thick on one axis; a line or a point covers nothing.
  static bool HasExtent(const import::Bounds& box) {
    int thin = 0;
    for (int axis = 0; axis < 3; ++axis) thin += box.max_m[axis] == box.min_m[axis];
    return thin <= 1;
  }

  int CountFrames() {
    int64_t frames = 1;
    if (options_.last_frame.has_value()) {
      frames = int64_t{*options_.last_frame} - options_.first_frame + 1;
    } else {
      double end_s = 0;
      for (const import::Channel& channel : channels_) end_s = std::max(end_s, channel.times_s.back());
      const double end_frame = end_s * options_.rate_numerator / options_.rate_denominator;
      frames = end_frame > kMostGltfFrames ? kMostGltfFrames + 1
                                           : 1 + static_cast<int64_t>(std::ceil(end_frame - kKeyTolerance_frames));
    }
    if (frames > kMostGltfFrames || options_.first_frame + frames - 1 > INT32_MAX) {
      faults_.Add("frames", absl::StrCat("got more than ", kMostGltfFrames,
                                         " or past the last number, want a last frame "
                                         "nearer to the first"));
    }
    return static_cast<int>(std::max<int64_t>(frames, 1));
  }

  // Objects, poses and visits the file asks for; also how it will be written.
  void CheckLimits() {
    int64_t objects = 0, poses = 0, visits = 0;
    for (const int node : hierarchy_.order) {
      if (animated_[node]) visits += times_.frames;
      if (model_.nodes[node].mesh < 0) continue;
      const int64_t copies = import::CountInstances(model_, node, &faults_).value_or(1);
      objects += copies;
      poses += copies * (animated_[node] ? times_.frames : 1);
    }
    poses += static_cast<int64_t>(chosen_.size()) * times_.frames;
    if (objects > kMostGltfObjects) {
      faults_.Add("objects", absl::StrCat("got ", objects, ", want at most ", kMostGltfObjects));
    } else if (poses > kMostGltfPoses + objects || visits > kMostNodeFrames) {
      faults_.Add("poses", absl::StrCat("got ", poses, " of ", visits, " node visits, want at most ", kMostGltfPoses,
                                        " of ", kMostNodeFrames, ": take fewer frames"));
    }
    blocks_ = options_.blocks || objects > kMostRows || poses > kMostRowPoses;
  }

  std::vector<bool> Wanted() const {
    std::vector<bool> wanted(model_.nodes.size(), false);
    for (const int node : hierarchy_.order) wanted[node] = model_.nodes[node].mesh >= 0;
    for (const import::SceneCamera& camera : chosen_) wanted[camera.node] = true;
    return wanted;
  }

  void SetFacts() {
    v1::Shot& shot = result_.shot;
    shot.set_shot_id(options_.shot_id.empty() ? "import" : options_.shot_id);
    shot.set_sequence_id(options_.sequence_id);
    shot.set_style(options_.style);
    shot.mutable_frames()->set_first(options_.first_frame);
    shot.mutable_frames()->set_last(options_.first_frame + times_.frames - 1);
    shot.mutable_rate()->set_numerator(options_.rate_numerator);
    shot.mutable_rate()->set_denominator(options_.rate_denominator);
  }

  void AddCameras() {
    const import::PictureSize size = import::SizeOf(model_, chosen_, options_);
    for (const import::SceneCamera& camera : chosen_) {
      *result_.shot.add_cameras() = import::MakeCamera(model_, camera, poses_[camera.node], size, &faults_, &warnings_);
    }
  }

  void AddObjects() {
    import::ObjectWriter writer(blocks_, &result_.shot);
    const std::vector<import::Labels> labels = import::ReadLabels(model_, hierarchy_, &warnings_);
    for (const int node : hierarchy_.order) {
      const int mesh = model_.nodes[node].mesh;
      if (mesh < 0) {
        result_.counts.without_mesh += model_.nodes[node].camera < 0;
        continue;
      }
      const std::optional<int64_t> instances = import::CountInstances(model_, node, &faults_);
      const int copies = static_cast<int>(instances.value_or(1));
      if (!boxes_[mesh].has_value() || import::IsFlat(poses_[node].world[0])) {
        result_.counts.without_extent += copies;
        continue;
      }
      WarnOfFlatFrames(node);
      import::ImportedObject object{"", labels[node], *boxes_[mesh], {}};
      if (instances.has_value()) {
        AddInstances(node, copies, &object, &writer);
      } else {
        object.id = object_names_.Take(hierarchy_.ids[node]);
        object.world = std::move(poses_[node].world);
        Write(&object, &writer);
      }
    }
  }

  void AddInstances(int node, int copies, import::ImportedObject* object, import::ObjectWriter* writer) {
    const std::vector<import::Matrix> instances = import::ReadInstances(model_, node, copies, &faults_);
    const std::string class_name = object->labels.class_name;
    for (size_t i = 0; i < instances.size(); ++i) {
      object->world.clear();
      for (const import::Matrix& world : poses_[node].world) {
        object->world.push_back(import::Multiply(world, instances[i]));
        if (import::IsFinite(object->world.back())) continue;
        return faults_.Add(absl::StrCat("nodes[", node, "]"), absl::StrCat("got instance ", i, " at no finite place"));
      }
      if (import::IsFlat(object->world[0])) {
        ++result_.counts.without_extent;
        continue;
      }
      object->id = object_names_.Take(absl::StrCat(hierarchy_.ids[node], "[", i, "]"));
      object->labels.class_name = class_name;
      ++result_.counts.instances;
      Write(object, writer);
    }
  }

  void Write(import::ImportedObject* object, import::ObjectWriter* writer) {
    object->labels.class_name = classes_.Choose(object->labels.class_name);
    writer->Add(*object);
    ++result_.counts.objects;
  }

  void WarnOfFlatFrames(int node) {
    if (poses_[node].flat_frames == 0) return;
    warnings_.Add(absl::StrCat("nodes[", node, "]"),
                  absl::StrCat("is scaled to nothing on ", poses_[node].flat_frames,
                               " frames; its nearest place with a size stands there"));
  }

  void Report() {
    GltfCounts& counts = result_.counts;
    counts.nodes = static_cast<int>(model_.nodes.size());
    counts.meshes = static_cast<int>(model_.meshes.size());
    counts.primitives = loaded_.dropped.primitives;
    counts.cameras = static_cast<int>(model_.cameras.size());
    counts.animations = static_cast<int>(model_.animations.size());
    classes_.Report(&warnings_);
    if (counts.objects == 0) warnings_.Add("", "no object in the scene");
    if (counts.without_extent > 0) {
      warnings_.Add("", absl::StrCat(counts.without_extent,
                                     " objects left out: no positions, a line, a point, or "
                                     "scaled to nothing"));
    }
    if (loaded_.dropped.skinned_nodes > 0) {
      warnings_.Add("",
                    absl::StrCat(loaded_.dropped.skinned_nodes, " skinned nodes: boxes are those of the rest pose"));
    }
    if (loaded_.dropped.morphed_meshes > 0) {
      warnings_.Add("", absl::StrCat(loaded_.dropped.morphed_meshes,
                                     " meshes with morph targets: boxes are those of the rest pose"));
    }
    for (const std::string& name : loaded_.dropped.required_extensions) {
      warnings_.Add("", absl::StrCat("the file requires ", name.substr(0, 80), ", which is not read"));
    }
    result_.warnings = warnings_.Lines();
  }

  import::LoadedGltf loaded_;
  const tinygltf::Model& model_;
  const GltfImportOptions& options_;
  Notes faults_, warnings_;
  import::ClassChooser classes_;
  import::Hierarchy hierarchy_;
  std::vector<import::Channel> channels_;
  MeshBoxes boxes_;
  std::vector<bool> animated_;
  std::vector<import::SceneCamera> cameras_, chosen_;
  import::FrameTimes times_;
  std::vector<import::NodePoses> poses_;
  import::UniqueNames object_names_;
  bool blocks_ = false;
  GltfImport result_;
};

void CheckBetween(const char* name, int64_t got, int64_t least, int64_t most, Notes* faults) {
  if (got < least || got > most) {
    faults->Add(name, absl::StrCat("got ", got, ", want ", least, " to ", most));
  }
}

Notes CheckOptions(const GltfImportOptions& options) {
  Notes faults;
  CheckBetween("rate_numerator", options.rate_numerator, 1, INT32_MAX, &faults);
  CheckBetween("rate_denominator", options.rate_denominator, 1, INT32_MAX, &faults);
  CheckBetween("width_px", options.width_px, 1, kMostPixels, &faults);
  CheckBetween("height_px", options.height_px, 0, kMostPixels, &faults);
  if (options.last_frame.has_value()) {
    const int64_t most = std::min<int64_t>(int64_t{options.first_frame} + kMostGltfFrames - 1, INT32_MAX);
    CheckBetween("last_frame", *options.last_frame, options.first_frame, most, &faults);
  }
  const auto& known = options.known_classes;
  const bool unknown = !known.empty() && std::find(known.begin(), known.end(), options.default_class) == known.end();
  if (options.default_class.empty() || unknown) {
    faults.Add("default_class", absl::StrCat("got '", options.default_class, "', want a class that is known"));
  }
  return faults;
}

absl::StatusOr<GltfImport> Import(std::string_view bytes, const std::optional<std::string>& folder,
                                  const GltfImportOptions& options) {
  if (const Notes faults = CheckOptions(options); !faults.empty()) return import::FaultsStatus(faults);
  absl::StatusOr<import::LoadedGltf> loaded = import::LoadGltf(bytes, folder);
  if (!loaded.ok()) return loaded.status();
  return Importer(*std::move(loaded), options).Run();
}

// Every line of a status names the file it is about.
absl::Status InFile(const std::string& path, const absl::Status& status) {
  const std::string message(status.message().data(), status.message().size());
  return absl::Status(status.code(),
                      absl::StrCat(path, ": ", absl::StrReplaceAll(message, {{"\n", "\n" + path + ": "}})));
}

std::string FolderOf(const std::string& path) { return std::filesystem::path(path).parent_path().string(); }

}  // namespace

absl::StatusOr<GltfImport> ImportGltf(const std::string& path, const GltfImportOptions& options) {
  const absl::StatusOr<std::string> bytes = import::ReadFileBytes(path);
  if (!bytes.ok()) return bytes.status();
  GltfImportOptions named = options;
  if (named.shot_id.empty()) named.shot_id = std::filesystem::path(path).stem().string();
  absl::StatusOr<GltfImport> result = Import(*bytes, FolderOf(path), named);
  if (!result.ok()) return InFile(path, result.status());
  return result;
}

absl::StatusOr<GltfImport> ImportGltfBytes(std::string_view bytes, const GltfImportOptions& options) {
  return Import(bytes, std::nullopt, options);
}

absl::StatusOr<std::vector<GltfCamera>> ListGltfCameras(const std::string& path) {
  const absl::StatusOr<std::string> bytes = import::ReadFileBytes(path);
  if (!bytes.ok()) return bytes.status();
  absl::StatusOr<import::LoadedGltf> loaded = import::LoadGltf(*bytes, FolderOf(path));
  if (!loaded.ok()) return InFile(path, loaded.status());
  const GltfImportOptions options;
  Importer importer(*std::move(loaded), options);
  importer.Prepare();
  if (!importer.faults().empty()) return InFile(path, import::FaultsStatus(importer.faults()));
  return importer.cameras();
}

}  // namespace scantling
