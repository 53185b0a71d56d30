// What an eye would miss: folds what the cameras measured into per-object sums, extremes and spans.
//
// Frames go through one at a time and are never kept: for each chunk the caller (planning/) walks the frames in order,
// measures the chunk through every camera, and calls ChunkFold::Add; Finish writes the chunk's objects into the
// columns. Chunks are independent of one another, so any number of threads gives the same bytes.
//
// Loss of a frame at tier t (2-model section 4), unit frame-octave:
//   importance * presence(t) * attention * (visible covered px / delivered px) * e_t,   e_t = max(0, log2(phi_t h /
//   floor))
// Set elements: e at COLOUR_PATCH is max(0, log2(turn / floor)), and PROXY's is the lesser of its own and the patch's.
// OMITTED is softened by contrast but never below COLOUR_PATCH's. A stereo pair counts once, by its greater eye, frame
// by frame and tier by tier. Over the shot: (1 - k) * sum + k * frames seen * worst frame, for each picture; pictures
// add. Losses never fall as the tier falls, rounding included.
//
// Seen in a frame: the box meets the frustum, is not wholly hidden, and covers more than the style's smallest px in
// image plus overscan, solidity and visible fraction taken in, and no drawing stands for it. Covered px are visible px.
// Measured areas are the object's own: solidity is not taken in again, and the image's area stands for both.
//
// turn: against the middle seen frame of that object in that camera (the earlier of two middles); at most the height,
// and the height where a corner of either frame lies behind the near plane or the object has no geometry.
//
// Validated input is expected (scene, catalogue, style); any such input gives finite figures. Thread-safe across folds.

#ifndef SCANTLING_SERVER_LEGIBILITY_LEGIBILITY_H_
#define SCANTLING_SERVER_LEGIBILITY_LEGIBILITY_H_

#include <array>
#include <cstdint>
#include <memory>
#include <span>
#include <vector>

#include "server/legibility/floor.h"
#include "server/legibility/motion.h"
#include "server/policy/types.h"
#include "server/scene/scene.h"
#include "server/units/frames.h"
#include "server/units/tier.h"
#include "server/view/hiding.h"
#include "server/view/view.h"

namespace scantling {

// Every loss is taken three times, with phi of every tier scaled by these (OMITTED's never above 1), since the unseen
// saving hangs on phi.
inline constexpr int kPhiScales = 3;
inline constexpr std::array<double, kPhiScales> kPhiScale = {0.5, 1.0, 1.5};
inline constexpr int kPhiAsGiven = 1;

enum class Sight : uint8_t {
  kOffScreen,  // the box never meets the frustum
  kTooSmall,   // in frame, but never above the style's smallest covered px
  kHidden,     // in frame and large enough in some frame, but then always wholly hidden, or so much that too little is
               // left
  kReplaced,   // seen only in frames in which a drawing stands for it
  kSeen,
};

// A run of seen frames, cut at beats: where tier and hold could be chosen anew.
struct Section {
  FrameRange frames;
  float height_over_floor = 0;  // largest
  float turn_over_floor = 0;    // set elements: largest
};

// What one member of a crowd covers of one cell of the picture: covered and visible px, solidity taken in, summed over
// the frames in which it is seen and over all cameras. A member counts wholly in the cell its centre stands in, the
// nearest cell where the centre is outside the picture; with a centre at or behind the eye, or without geometry, in
// none.
struct CellCover {
  uint32_t member = 0;  // index into Crowd::members
  int32_t cell = 0;     // row * columns + column, from the top left
  double px = 0;        // > 0, whole 1024ths: sums of up to 8e12 px are the same in any order
};

// What a fold finds of one lane whose object is in a crowd.
struct CrowdFindings {
  struct Cover {
    uint32_t crowd = 0;
    CellCover cover;
  };
  std::vector<Cover> cover;         // by crowd, then cell
  std::vector<FrameSpans> through;  // [camera], frames in which it is seen; empty where there is but one camera
};

// What a fold finds of one lane and cannot write into a column.
struct LaneFindings {
  std::vector<Section> sections;
  std::vector<Jump> jumps;                // JumpCount(style) of them, or none: its path moves in no seen frame
  std::unique_ptr<CrowdFindings> crowds;  // none: in no crowd, or never seen
};

// Frames in which members of crowds are seen, camera by camera. Empty where there is but one camera.
struct SeenThrough {
  std::vector<uint32_t> objects;  // rows, rising
  size_t cameras = 0;
  std::vector<uint32_t> begin;  // [place in objects * cameras + camera], and one more; into `spans`
  std::vector<FrameRange> spans;
};

// Columns by object row.
struct Legibility {
  std::vector<Sight> sight;
  std::vector<std::array<PerTier<double>, kPhiScales>> loss;  // [object][phi scale][tier], frame-octaves; FULL_RIG 0
  std::vector<PerTier<float>> worst_octaves;                  // largest e_t in any seen frame, phi as given
  std::vector<int32_t> seen_frames;                           // frames seen through any camera
  std::vector<int32_t> seen_camera_frames;                    // summed over cameras: what is rendered
  std::vector<double> rendered_megapixels;  // solidity * area in image plus overscan, over the seen camera frames
  std::vector<float> largest_height_px;     // at the frame where height over floor is largest, the earliest of equals
  std::vector<float> floor_px;              // floor there
  std::vector<FloorTerm> floor_term;        // the term that set it
  std::vector<int32_t> largest_frame;       // frame number there; first frame where never seen
  std::vector<float> height_over_floor;     // largest ratio over seen frames; 0 where never seen
  std::vector<float> turn_over_floor;       // set elements: largest ratio of turn to floor; 0 for figures
  std::vector<float> near_m;                // stage depth of the nearest visible point over seen frames; 0: never
  std::vector<float> apparent_m;            // apparent distance at largest_frame; 0 where the class has no height
  std::vector<float> largest_u_px,
      largest_v_px;                     // where its centre stands in the picture at largest_frame; NaN: unknown
  std::vector<float> visible_fraction;  // at largest_frame; 0 where never seen
  std::vector<int32_t> hidden_frames;   // frames in which it is in frame and large enough, and so much hidden that
                                        // too little is left or nothing (unseen through every camera)
  std::vector<uint8_t> band;            // of the style, at largest_frame; 0 where never seen
  Motion motion;
  std::vector<uint32_t> span_begin;  // size objects + 1, into `spans`: frames seen through any camera
  std::vector<FrameRange> spans;
  std::vector<uint32_t> section_begin;  // size objects + 1, into `sections`
  std::vector<Section> sections;
  std::vector<std::vector<CellCover>> cell_cover;  // [crowd], by member, then cell; empty for crowds without cells
  SeenThrough seen_through;

  void Resize(size_t objects);  // everything but spans, sections and jumps, which Assemble fills
  std::span<const Section> sections_of(size_t object) const {
    return std::span(sections).subspan(section_begin[object], section_begin[object + 1] - section_begin[object]);
  }
  std::span<const FrameRange> spans_of(size_t object) const {
    return std::span(spans).subspan(span_begin[object], span_begin[object + 1] - span_begin[object]);
  }
  // Frames in which the object is seen through one camera. With several cameras of members of crowds only: none of
  // others. O(log members).
  std::span<const FrameRange> spans_through(uint32_t object, size_t camera) const;
};

// Where the points of interest are in the picture, for one camera and frame. Place points and objects' projected
// centres (those not behind the eye), in delivered px.
struct InterestPoint {
  double u_px = 0, v_px = 0;
};
std::vector<InterestPoint> InterestPoints(const Scene& scene, size_t camera, int32_t frame_index,
                                          const CameraView& view);

// An object as a member of a crowd.
struct CrowdPlace {
  uint32_t row = 0, crowd = 0;
  uint32_t member = 0;  // index into Crowd::members
};

// What is the same for every chunk: camera views, floor contexts and points of interest of every camera and frame;
// object contrast. Built once per plan, then read by all threads.
struct ShotOptics {
  const Scene* scene = nullptr;
  const ClassCatalogue* catalogue = nullptr;
  const Style* style = nullptr;
  std::vector<CameraView> views;                     // [camera * frames + frame_index]
  std::vector<FloorContext> floors;                  // same
  std::vector<std::vector<InterestPoint>> interest;  // same
  Occluders occluders;
  HidingOptions hiding;
  std::vector<CrowdPlace> crowd_places;  // by row, then crowd
  size_t at(size_t camera, int32_t frame_index) const {
    return camera * static_cast<size_t>(scene->frames.count()) + static_cast<size_t>(frame_index);
  }
};
ShotOptics OpticsOf(const Scene& scene, const ClassCatalogue& catalogue, const Style& style);

// What Add needs only while it runs: one per thread, for any number of folds, never for two at once.
class FoldScratch {
 public:
  FoldScratch();
  ~FoldScratch();
  FoldScratch(const FoldScratch&) = delete;
  FoldScratch& operator=(const FoldScratch&) = delete;

  struct Data;  // private to legibility/
  Data& data() { return *data_; }

 private:
  std::unique_ptr<Data> data_;
};

// Folds the objects of one chunk. Call Add once per frame, in order, with one ViewBlock per camera; then Finish once.
// Objects with caller's measured figures take those over what was measured, as wholly visible.
// Memory, measured with a full chunk and one camera: 95 KB, 51 KB more for every further picture, and 24 bytes (48 at
// most, as lists grow) for every frame in which a set element is seen through a camera; to which comes what
// motion_fold.h says.
class ChunkFold {
 public:
  ChunkFold(const ShotOptics& optics, const PoseChunk& chunk);
  ~ChunkFold();
  ChunkFold(const ChunkFold&) = delete;
  ChunkFold& operator=(const ChunkFold&) = delete;

  void Add(int32_t frame_index, std::span<const ViewBlock> blocks, FoldScratch& scratch);  // blocks: one per camera

  // Writes the columns of the chunk's objects (disjoint between chunks: thread-safe among chunks) and returns what goes
  // to Assemble, lane by lane.
  std::vector<LaneFindings> Finish(Legibility& columns);

 private:
  struct State;
  std::unique_ptr<State> state_;
};

// Objects without geometry (measured figures only): the same fold straight from the scene. Rows in `objects`.
std::vector<LaneFindings> FoldMeasured(const ShotOptics& optics, std::span<const uint32_t> objects,
                                       Legibility& columns);

// Puts what was found of each object (by object row) into the columns: sections, the spans they make up, jumps, what of
// crowds was found. cell_cover grows to the crowds that were seen.
void Assemble(std::vector<LaneFindings> by_object, Legibility& columns);

// Columns of objects whose rows changed: was[row] is the row an object had, kNone: it is new, and nothing is known of
// it yet. What is known of crowds moves along; members keep their numbers, so a crowd whose members changed must be
// measured again. O(objects + sections + jumps).
void MoveRows(std::span<const uint32_t> was, Legibility& columns);

// What was found of some rows (each once) in place of what was known of them; their columns are written already.
// cell_cover must have a list for each of the crowds. O(objects + sections + crowds' cover).
void PutFindings(std::span<const uint32_t> rows, std::vector<LaneFindings> findings, std::span<const Crowd> crowds,
                 Legibility& columns);

// Frames in which an object is seen indirectly, replaced ones left out; and whether in some of them nobody sees the
// object itself. O(its spans).
FrameSpans IndirectFrames(const Scene& scene, uint32_t object);
bool IsSeenOnlyIndirectlySomewhere(const Scene& scene, const Legibility& legibility, uint32_t object);

// The figures of one object at one frame through one camera, for an explanation. All 0 where not in frame; octaves and
// loss 0 where not seen. Losses (phi as given) are the fold's own terms, equal to the last bit.
struct FrameFigures {
  int32_t frame = 0;
  size_t camera = 0;
  bool seen = false;
  bool replaced = false;
  double visible = 0;  // fraction
  double jump_px = 0;  // of the path in this frame, held as asked; 0 within a hold and where not seen
  double height_px = 0, covered_px = 0, depth_m = 0, apparent_m = 0;
  Floor floor;
  double turn_px = 0;            // set elements
  PerTier<double> octaves = {};  // e_t
  PerTier<double> loss = {};     // of the frame
};
// Every frame through every camera, camera by camera, with the path on `hold` in `phase`. Builds the depth maps anew.
// O(frames * cameras * (lanes of the chunk + a depth map)).
std::vector<FrameFigures> ExplainFrames(const ShotOptics& optics, uint32_t object, int32_t hold, int32_t phase);

}  // namespace scantling

#endif  // SCANTLING_SERVER_LEGIBILITY_LEGIBILITY_H_
