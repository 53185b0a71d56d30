// What the studio decides and the code obeys: styles, the class catalogue and the rate card, as plain validated
// structs.
//
// policy/ reads them from YAML (config/); every stage may include this file and nothing else of policy/. A value of
// these types has been validated: stages do not check again. Numbers are invented starting values unless a comment in
// the YAML names a source.

#ifndef SCANTLING_SERVER_POLICY_TYPES_H_
#define SCANTLING_SERVER_POLICY_TYPES_H_

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "server/units/tier.h"

namespace scantling {

// ---- Style: what hides detail in this film's picture -------------------------------------------------------------

// A curve over depth: piecewise linear in log2(depth) between the points, level beyond the first and the last.
// No points: zero everywhere (the term is off).
struct DepthCurve {
  struct Point {
    double depth_m = 1;          // > 0, strictly rising along the curve
    double picture_heights = 0;  // size as a share of picture height, >= 0
  };
  std::vector<Point> points;
};

// Value of the curve at a depth, in picture heights. depth_m > 0 or +infinity.
double Evaluate(const DepthCurve& curve, double depth_m);

enum class DepthKind : uint8_t {
  kApparent,  // where the object's real-life size would appear this big; stage depth for classes without one
  kStage,     // camera-space depth of the nearest visible point
};

// Foreground, midground, background, backdrop, or however the style parts its picture in depth.
struct DepthBand {
  std::string name;   // unique in the style
  double from_m = 0;  // the first begins at 0; strictly rising
};

// Fewest and most frames a pose may stay. 1 <= least <= greatest.
struct HoldBounds {
  int32_t least = 1, greatest = 4;
};

inline constexpr int32_t kLongestHold = 12;  // of any style's list

struct Style {
  std::string name;
  std::string description;

  double viewing_distance_heights = 3.2;  // eye to picture, in picture heights, > 0
  DepthCurve line_weight;                 // ink line; no points: no line work
  DepthCurve plate_shift;                 // misregistration; no points: none
  DepthKind depth_kind = DepthKind::kApparent;
  double shutter_fraction = 0;      // share of a frame the shutter is open, 0..1; 0: no motion blur
  double default_f_number = 0;      // for cameras that give none; 0: such cameras have no lens focus
  bool lens_focus = false;          // whether defocus may hide detail at all
  bool any_still_must_hold = true;  // a paused viewer looks anywhere: attention weighs loss only, blur hides none
  double worst_frame_share = 1;     // k of 2-model section 4, 0..1; 1 where any single still must hold up
  double worst_octaves = 4;         // figures: a tier coarser than this in any seen frame is not for sale, > 0
  double full_contrast_de00 = 20;   // colour difference at which contrast softens nothing any more, > 0
  double smallest_covered_px = 1;   // seen at all from more covered pixels than this (image plus overscan), >= 0

  int32_t handle_frames = 8;                  // animated before and after what is seen, >= 0
  int32_t settle_frames = 12;                 // gaps up to this are animated through, >= 0
  std::vector<int32_t> holds = {1, 2, 3, 4};  // frames a pose may stay, rising, first is 1, last <= kLongestHold
  std::vector<std::pair<std::string, HoldBounds>> class_holds;  // by class name, over the class's own; names unique
  // At least one; starting values.
  std::vector<DepthBand> bands = {{"foreground", 0}, {"midground", 12}, {"background", 60}, {"backdrop", 300}};
  DepthKind band_depth = DepthKind::kApparent;  // what bands are read at
  // Figures whose height is this many floors or more are never wholly still, > 0.
  double keep_alive_floors = 40;
  // An earlier decision is given up only where that gains more than this share of the object's loss at OMITTED, 0..1,
  // and more than the least, frame-octaves, >= 0.
  double change_margin = 0.05;
  double change_margin_least = 0.00001;
};

// ---- Class catalogue ---------------------------------------------------------------------------------------------

enum class ClassKind : uint8_t {
  kFigure,      // moves or acts; a patch of it drops detail
  kSetElement,  // dwelling, wall, vessel: a patch is a painting that loses nothing until the view of it turns
};

enum class Contact : uint8_t {
  kRigid,   // keeps its shape: its path may be on ones while its poses are held
  kGround,  // walks: where its path moves on and its pose does not, its feet slip
};

struct ObjectClass {
  std::string name;
  std::string description;
  ClassKind kind = ClassKind::kFigure;
  PerTier<double> phi = {1, 0.3, 0.04, 0};  // share of height of the coarsest feature a tier drops; FULL_RIG 0
  double omitted_presence = 3;              // weight of OMITTED's loss, >= 1
  double solidity = 0.6;                    // share of its box an object fills, > 0..1
  double importance = 1;                    // where an object gives none, > 0
  std::optional<double> real_height_m;      // real-life height, for apparent distance
  double articulation = 0.1;                // psi: amplitude of its own movement as a share of height, >= 0
  double cycles_per_second = 2;             // nu: rate of that movement, >= 0
  HoldBounds hold;                          // where the style gives none for the class
  bool moves_at_rest = true;                // false: its own movement stops when it stops travelling (a wheel)
  Contact contact = Contact::kRigid;
  double inner_box = 0;  // share of its box, about the centre, that is solid: hides; 0: hides nothing
  Tier least_tier_when_indirect = Tier::kProxy;  // shadow casters and reflections keep at least this
};

struct ClassCatalogue {
  std::vector<ObjectClass> classes;      // at least one; names unique
  uint16_t default_class = 0;            // for imports whose class is unknown
  double occluder_least_solidity = 0.5;  // classes of less are seen through: they never hide anything, 0..1

  // Index of a class by name; nullopt where there is none. O(classes).
  std::optional<uint16_t> Find(std::string_view name) const;
};

// ---- Rate card ---------------------------------------------------------------------------------------------------

struct Rate {
  double setup_hours = 0;             // once per object
  double hours_per_second = 0;        // animation hours per animated second on the reference hold
  double core_s_per_frame = 0;        // render core-seconds per seen frame and camera
  double core_s_per_megapixel = 0;    // and per covered megapixel
  double memory_mb = 0;               // per frame, once per asset
  double shared_setup_hours = 0;      // animation hours, once per asset and shot, however many use it: a cycle, a rig's
                                      // tuning; objects without an asset pay it each
  double other_setup_hours = 0;       // hours of the third department, once per object
  double other_hours_per_second = 0;  // and per animated second
  double hours_cv = 0;                // coefficients of variation of the figures above, >= 0
  double core_cv = 0;
};

struct ClassRates {
  PerTier<Rate> tier;                      // OMITTED is all zero
  double paint_in_hours = 0;               // once, for drawing a contained object into or onto its container
  double keep_alive_hours_per_second = 0;  // least for a large figure that is otherwise still, >= 0; 0: none
};

struct RateCard {
  std::string name;
  std::vector<ClassRates> classes;     // same order as ClassCatalogue::classes
  double money_per_animator_hour = 0;  // any one currency
  double money_per_core_hour = 0;
  std::string other_department;  // name of the third department; empty: there is none
  double money_per_other_hour = 0;
  int32_t reference_hold = 2;                   // the hold the hours are quoted on
  double hold_exponent = 0.7;                   // g: hours scale with (hold / reference_hold)^-g
  double base_core_s_per_frame = 0;             // a frame costs this whatever is in it, per camera
  double renders_to_final = 3;                  // times a frame is rendered before it is final, >= 1
  double show_cv_hours = 0, shot_cv_hours = 0;  // coefficients of variation of the common factors
  double show_cv_core = 0, shot_cv_core = 0;
  double hours_per_animator_week = 40;  // for reading hours in weeks
};

// ---- All of it ---------------------------------------------------------------------------------------------------

// Bounds of a class's hold in a style: the style's where it gives some, else the class's own. O(classes named by
// style).
HoldBounds HoldBoundsOf(const Style& style, const ObjectClass& object_class);

struct Policy {
  std::vector<Style> styles;  // names unique; at least one
  std::string default_style;
  ClassCatalogue catalogue;
  RateCard rates;

  const Style* FindStyle(std::string_view name) const;  // nullptr where there is none
};

}  // namespace scantling

#endif  // SCANTLING_SERVER_POLICY_TYPES_H_
