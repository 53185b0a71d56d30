// Idea: from the answer to its grounds: the ruling in a sentence, the four tiers side by side, what would change it,
// and then the figures the whole rests on, drawn before they are listed.
//
// Frames are told camera by camera: two cameras see one object at two sizes, and a mixed list reads as jitter.

#include "client/command/explain_text.h"

#include <algorithm>
#include <vector>

#include "absl/strings/str_cat.h"
#include "client/command/chart.h"
#include "client/command/table.h"
#include "client/command/words.h"
#include "client/library/utf8.h"

namespace scantling::client {
namespace {

// Lines of the frame table unless all are wanted.
constexpr int kShownFrames = 24;
constexpr int kNamedRanges = 6;

// A tier as what something becomes: "a proxy", but "omitted".
std::string Becoming(v1::Tier tier) { return absl::StrCat(tier == v1::OMITTED ? "" : "a ", TierWord(tier)); }

// Budget flips are not of whole plans, which do not move one way only as a budget grows; so they say what they are of.
std::string BudgetFlipText(const v1::Flip& flip, double hours, const std::string& unit) {
  return absl::StrCat("With ", Measured(hours), " ", unit, ", all else as it is, it would become ",
                      Becoming(flip.tier()), " (relaxed plan: objects may be made in part)");
}

std::string FlipText(const v1::Flip& flip, const std::string& other_department) {
  if (flip.has_anim_hours()) return BudgetFlipText(flip, flip.anim_hours(), "animator-hours");
  if (flip.has_core_hours()) return BudgetFlipText(flip, flip.core_hours(), "core-hours");
  if (flip.has_other_hours()) {
    const std::string unit =
        other_department.empty() ? "hours of the third department" : Printable(other_department) + "-hours";
    return BudgetFlipText(flip, flip.other_hours(), unit);
  }
  std::string text = absl::StrCat("It would be ", TierWord(flip.tier()));
  if (!flip.directive().empty()) return absl::StrCat(text, " but for the directive: ", Printable(flip.directive()));
  if (flip.size_factor() > 0) {
    return absl::StrCat(text, " if it appeared ", Measured(flip.size_factor()), " times as large",
                        flip.size_factor() < 1 ? " (smaller than it does)" : "");
  }
  return absl::StrCat(text, " if every hour were worth ", Measured(flip.price_factor()),
                      " times what it is in this plan");
}

std::vector<std::string> CamerasOf(const v1::ExplainDecisionResponse& answer) {
  std::vector<std::string> cameras;
  for (const v1::FrameFigures& figures : answer.frames()) {
    if (std::find(cameras.begin(), cameras.end(), figures.camera_id()) == cameras.end()) {
      cameras.push_back(figures.camera_id());
    }
  }
  return cameras;
}

std::vector<const v1::FrameFigures*> FramesOf(const v1::ExplainDecisionResponse& answer, const std::string& camera_id) {
  std::vector<const v1::FrameFigures*> frames;
  for (const v1::FrameFigures& figures : answer.frames()) {
    if (figures.camera_id() == camera_id) frames.push_back(&figures);
  }
  return frames;
}

std::string ChartOf(const v1::ExplainDecisionResponse& answer, const std::string& camera_id) {
  std::vector<ChartPoint> points;
  for (const v1::FrameFigures* figures : FramesOf(answer, camera_id)) {
    points.push_back({figures->frame(), figures->seen(), figures->height_px(), figures->floor_px(), figures->replaced(),
                      figures->visible_fraction(), figures->depth_m() > 0});
  }
  return HeightChart(points, ChartSize());
}

}  // namespace

std::string DecisionText(const v1::Decision& decision, const WorkRates& rates, WorkUnit unit) {
  std::string text = absl::StrCat(Printable(decision.object_id()), ": ", TierWord(decision.tier()), "\n");
  const std::string why = decision.reason_text().empty() ? ReasonPhrase(decision.reason()) : decision.reason_text();
  text += Paragraph(Printable(why));
  TextTable table({{"class"},
                   {"asset"},
                   {"held by"},
                   {"seen in"},
                   {"animate"},
                   {"hold", Align::kRight},
                   {HeadingOf(unit), Align::kRight},
                   {"core-hours", Align::kRight},
                   {"loss", Align::kRight}});
  const auto or_dash = [](const std::string& value) { return value.empty() ? "-" : value; };
  table.AddRow({decision.class_name(), or_dash(decision.asset_id()), or_dash(decision.container_id()),
                or_dash(FramesText(decision.seen(), kNamedRanges)),
                or_dash(FramesText(decision.animated(), kNamedRanges)), HoldText(decision),
                Figure(AmountOf(decision, unit, rates)), Figure(decision.core_hours()), Measured(decision.loss())});
  absl::StrAppend(&text, "\n", table.Text());
  if (decision.near_m() > 0) {
    std::string said;
    absl::StrAppend(&said, "Most over its floor at frame ", decision.largest_frame(), ": ",
                    Measured(decision.height_px()), " px high, floor ", Measured(decision.floor_px()), " px set by ",
                    FloorTermWord(decision.floor_term()), "; nearest ", Measured(decision.near_m()), " m on stage");
    if (decision.apparent_m() > 0) absl::StrAppend(&said, ", looks ", Measured(decision.apparent_m()), " m away");
    if (!decision.band().empty()) absl::StrAppend(&said, ", in the ", Printable(decision.band()));
    if (decision.visible_fraction() < 1) {
      absl::StrAppend(&said, "; ", Figure(100 * decision.visible_fraction()), "% of it visible there");
    }
    text += Paragraph(said);
  }
  if (decision.other_hours() > 0) {
    absl::StrAppend(&text, "  Hours of the third department: ", Figure(decision.other_hours()), "\n");
  }
  if (decision.earlier() != v1::TIER_UNSPECIFIED) {
    absl::StrAppend(&text, "  In the earlier plan: ", TierWord(decision.earlier()),
                    decision.earlier() == decision.tier() ? ", as now" : "", "\n");
  }
  if (decision.hidden_frames() > 0) {
    absl::StrAppend(&text, "  Hidden in ", decision.hidden_frames(), " frames in which it is in frame\n");
  }
  if (decision.indirect_size() > 0) {
    absl::StrAppend(&text, "  Its shadow, reflection or light is seen in ",
                    FramesText(decision.indirect(), kNamedRanges), "\n");
  }
  return text;
}

std::string HoldsText(const v1::Decision& decision) {
  if (decision.still()) {
    return Paragraph(
        decision.kept_alive()
            ? "It stands still, but is too large to be left wholly still: it is kept alive."
            : "It stands still: its travel and its own movement stay under the floor. Nothing to animate.");
  }
  if (decision.hold() <= 0) return "";
  std::string said = absl::StrCat("Poses stay ", decision.hold(), decision.hold() == 1 ? " frame" : " frames");
  if (decision.poses_per_cycle() > 0) {
    absl::StrAppend(&said, ": its movement reads with ", Measured(decision.poses_per_cycle()), " poses a cycle");
  } else {
    absl::StrAppend(&said, ": its own movement cannot be read, so the style's longest will do");
  }
  if (decision.hold() > 1) {
    const std::string when =
        decision.phase() == 0
            ? "at"
            : absl::StrCat(decision.phase(), decision.phase() == 1 ? " frame after" : " frames after");
    absl::StrAppend(&said, ". A new pose starts ", when, " the first frame and every beat");
  }
  said += ".";
  const std::string jump = absl::StrCat(Measured(decision.path_jump_px()), " px");
  switch (decision.path_split()) {
    case v1::SPLIT:
      absl::StrAppend(&said, " Its path needs a shorter hold than its poses: path on ", decision.path_hold(),
                      ", largest jump ", jump, ", feet slip ", Measured(decision.contact_slip_px()), " px at most.");
      break;
    case v1::WOULD_SLIP:
      absl::StrAppend(&said, " Its path wants ", decision.path_hold(), ", but with poses held its feet would slip ",
                      Measured(decision.contact_slip_px()),
                      " px: the animator chooses between the step in the path and a shorter hold for the poses.");
      break;
    default:
      absl::StrAppend(&said, " Its path goes with the poses, largest jump ", jump, ".");
  }
  return Paragraph(said);
}

std::string BySpanText(const v1::Decision& decision) {
  if (decision.by_span().spans().empty()) return "";
  TextTable table({{"BY SPAN"}, {"tier"}, {"hold", Align::kRight}});
  for (const v1::SpanChoice::Span& span : decision.by_span().spans()) {
    table.AddRow({absl::StrCat(span.frames().first(), "-", span.frames().last()), TierWord(span.tier()),
                  span.hold() > 0 ? absl::StrCat(span.hold()) : "-"});
  }
  return absl::StrCat("\n", table.Text(), "  Saves ", Figure(decision.by_span().saved_anim_hours()),
                      " animator-hours and ", Figure(decision.by_span().saved_core_hours()),
                      " core-hours against one choice throughout, and loses nothing more in any frame\n");
}

std::string TiersText(const v1::Decision& decision) {
  if (decision.tiers().empty()) return "";
  TextTable table({{"TIERS"},
                   {"animator-hours", Align::kRight},
                   {"core-hours", Align::kRight},
                   {"loss, frame-octaves", Align::kRight},
                   {"worst octaves", Align::kRight},
                   {"may be chosen"}});
  for (const v1::TierFigures& tier : decision.tiers()) {
    const bool is_chosen = tier.tier() == decision.tier();
    const std::string allowed = tier.allowed() ? (is_chosen ? "chosen" : "yes") : absl::StrCat("no: ", tier.why_not());
    table.AddRow({TierWord(tier.tier()), Figure(tier.anim_hours()), Figure(tier.core_hours()), Measured(tier.loss()),
                  Measured(tier.worst_octaves()), allowed});
  }
  return absl::StrCat("\n", table.Text());
}

std::string FlipsText(const v1::Decision& decision, const std::string& other_department) {
  if (decision.flips().empty()) return "";
  std::string text = "\nWHAT WOULD CHANGE IT\n";
  for (const v1::Flip& flip : decision.flips()) text += Paragraph(FlipText(flip, other_department));
  return text;
}

std::string FramesTable(const v1::ExplainDecisionResponse& answer, const std::string& camera_id, bool all) {
  const std::vector<const v1::FrameFigures*> frames = FramesOf(answer, camera_id);
  if (frames.empty()) return "";
  TextTable table({{"frame", Align::kRight},
                   {"seen"},
                   {"height px", Align::kRight},
                   {"floor px", Align::kRight},
                   {"set by"},
                   {"covered px", Align::kRight},
                   {"visible", Align::kRight},
                   {"jump px", Align::kRight},
                   {"stage m", Align::kRight},
                   {"looks m", Align::kRight},
                   {"turn px", Align::kRight}});
  const auto total = static_cast<int64_t>(frames.size());
  const int64_t shown = all ? total : std::min<int64_t>(total, kShownFrames);
  for (int64_t i = 0; i < shown; ++i) {
    const v1::FrameFigures& one = *frames[static_cast<size_t>(shown > 1 ? i * (total - 1) / (shown - 1) : 0)];
    table.AddRow({absl::StrCat(one.frame()),
                  one.replaced() ? "drawn"
                  : one.seen()   ? "yes"
                                 : "no",
                  Measured(one.height_px()), Measured(one.floor_px()), FloorTermWord(one.floor_term()),
                  Measured(one.covered_px()),
                  one.depth_m() > 0 ? absl::StrCat(Figure(100 * one.visible_fraction()), "%") : "-",
                  Measured(one.jump_px()), Measured(one.depth_m()),
                  one.apparent_m() > 0 ? Measured(one.apparent_m()) : "-", Measured(one.turn_px())});
  }
  std::string text = table.Text();
  if (shown < total) absl::StrAppend(&text, "  ", shown, " of ", total, " frames; all with --all\n");
  return text;
}

std::string ExplainText(const v1::ExplainDecisionResponse& answer, const ExplainTextOptions& options) {
  const WorkRates rates = {answer.totals().hours_per_animator_week(), answer.totals().rate_fps()};
  std::string text = DecisionText(answer.decision(), rates, options.unit) + HoldsText(answer.decision()) +
                     TiersText(answer.decision()) + BySpanText(answer.decision()) +
                     FlipsText(answer.decision(), answer.totals().other_department());
  for (const std::string& camera : CamerasOf(answer)) {
    absl::StrAppend(&text, "\nSEEN FROM ", Printable(camera), "\n");
    const std::string chart = ChartOf(answer, camera);
    absl::StrAppend(&text, chart.empty() ? "  never seen\n" : chart, "\n", FramesTable(answer, camera, options.all));
  }
  return text + "\n" +
         Paragraph(
             "Hours are estimates of the rate card in force. They guide planning and decide nobody's job or "
             "schedule by themselves.");
}

}  // namespace scantling::client
