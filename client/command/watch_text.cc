// Idea: after an edit an artist asks three things in this order: whose tier changed and why, who must now be animated
// and who need not any more, and what it all costs. One table answers the first two, one line each the rest.
//
//   FINAL after 0.21 s
//     object       was            is          animating   hours   why
//     lamplighter  proxy          full rig    newly         +12   its detail can be read
//     and 12 more keep their tier: frames, holds or figures (+3.1 hours)
//     animator-hours 4,800 -> 4,812 (+12)   ...

#include "client/command/watch_text.h"

#include <algorithm>
#include <cmath>
#include <vector>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_format.h"
#include "client/command/table.h"
#include "client/command/units.h"
#include "client/command/words.h"
#include "client/library/utf8.h"

namespace scantling::client {
namespace {

constexpr size_t kShownChanges = 15;
constexpr int kIdColumns = 36;
constexpr int kShownCameras = 3;
constexpr int64_t kShownLooks = 3;

std::string SignedFigure(double value) {
  const std::string figure = Figure(std::abs(value));
  if (figure[0] == '<' || figure == "0") return "0";  // of no account in either direction
  return absl::StrCat(value < 0 ? "-" : "+", figure);
}

// A sum before and after: to the hour, or the difference would not be seen.
std::string SumFigure(double value) {
  constexpr double kWholeHoursFrom = 100;
  return value < kWholeHoursFrom ? Figure(value) : Count(std::llround(value));
}

std::string SignedCount(int64_t value) {
  return value == 0 ? "0" : absl::StrCat(value < 0 ? "-" : "+", Count(std::abs(value)));
}

double HoursOf(const DecisionPtr& decision) { return decision ? decision->anim_hours() : 0; }
double HoursGained(const LiveChange& change) { return HoursOf(change.after) - HoursOf(change.before); }
bool IsAnimated(const DecisionPtr& decision) { return decision && decision->needs_animation(); }

bool IsShown(const LiveChange& change) {
  if (!change.before || !change.after) return true;
  return change.before->tier() != change.after->tier() || IsAnimated(change.before) != IsAnimated(change.after);
}

std::string AnimatingText(const LiveChange& change) {
  const bool was = IsAnimated(change.before), is = IsAnimated(change.after);
  return was == is ? (is ? "still" : "") : is ? "newly" : "no longer";
}

std::string WhyText(const LiveChange& change) {
  if (!change.after) return "not in the shot any more";
  // A ruling's sentence says whose it is; other reasons' figures belong to explain.
  const bool is_ruled = change.after->reason() == v1::DIRECTIVE && !change.after->reason_text().empty();
  return is_ruled ? change.after->reason_text() : ReasonPhrase(change.after->reason());
}

std::string TimeText(const char* state, const std::optional<std::chrono::duration<double, std::milli>>& took) {
  return took ? absl::StrCat(state, absl::StrFormat(" after %.2f s", took->count() / 1000)) : state;
}

std::string ChangesTable(const std::vector<const LiveChange*>& shown, bool all) {
  TextTable table(
      {{"object", Align::kLeft, kIdColumns}, {"was"}, {"is"}, {"animating"}, {"hours", Align::kRight}, {"why"}});
  const size_t listed = all ? shown.size() : std::min(shown.size(), kShownChanges);
  for (size_t i = 0; i < listed; ++i) {
    const LiveChange& one = *shown[i];
    table.AddRow({one.object_id, one.before ? TierWord(one.before->tier()) : "new",
                  one.after ? TierWord(one.after->tier()) : "gone", AnimatingText(one), SignedFigure(HoursGained(one)),
                  WhyText(one)});
  }
  std::string text = table.Text();
  if (shown.size() > listed) absl::StrAppend(&text, "  and ", shown.size() - listed, " more; all with --all\n");
  return text;
}

std::string ChangesText(const std::vector<LiveChange>& changes, bool all) {
  std::vector<const LiveChange*> shown;
  int64_t others = 0, newly = 0, no_longer = 0;
  double other_hours = 0;
  for (const LiveChange& change : changes) {
    newly += !IsAnimated(change.before) && IsAnimated(change.after);
    no_longer += IsAnimated(change.before) && !IsAnimated(change.after);
    if (IsShown(change)) {
      shown.push_back(&change);
    } else {
      ++others;
      other_hours += HoursGained(change);
    }
  }
  std::stable_sort(shown.begin(), shown.end(), [](const LiveChange* a, const LiveChange* b) {
    return std::abs(HoursGained(*a)) > std::abs(HoursGained(*b));
  });
  std::string text;
  if (!shown.empty()) absl::StrAppend(&text, ChangesTable(shown, all));
  if (newly + no_longer > 0) {
    absl::StrAppend(&text, "  newly need animating: ", Count(newly), "; no longer: ", Count(no_longer), "\n");
  }
  if (others > 0) {
    const std::string who = shown.empty() ? (others == 1 ? "object" : "objects") : "more";
    absl::StrAppend(&text, "  ", Count(others), " ", who, others == 1 ? " keeps its" : " keep their",
                    " tier and changed in frames, hold or figures (", SignedFigure(other_hours), " hours)\n");
  }
  if (shown.empty() && others == 0) text = "  no decision changed\n";
  return text;
}

std::string FromTo(const char* what, double from, double to) {
  return absl::StrCat(what, " ", SumFigure(from), " -> ", SumFigure(to), " (", SignedFigure(to - from), ")");
}

std::string CountFromTo(const char* what, int64_t from, int64_t to) {
  return absl::StrCat(what, " ", Count(from), " -> ", Count(to), " (", SignedCount(to - from), ")");
}

std::string TotalsText(const v1::Totals& totals) {
  return absl::StrCat("  ", Count(totals.needs_animation()), " of ", Count(totals.objects()),
                      " need animating: ", SumFigure(totals.plan().anim_hours().mean()), " animator-hours, ",
                      SumFigure(totals.plan().core_hours().mean()), " core-hours\n  ", Count(totals.full_rig()),
                      " full rig, ", Count(totals.proxy()), " proxy, ", Count(totals.colour_patch()), " colour patch, ",
                      Count(totals.omitted()), " omitted; loss ", Measured(totals.loss()), "\n");
}

std::string TotalsChangeText(const v1::Totals& from, const v1::Totals& to) {
  std::string text =
      absl::StrCat("  ", FromTo("animator-hours", from.plan().anim_hours().mean(), to.plan().anim_hours().mean()),
                   "   ", FromTo("core-hours", from.plan().core_hours().mean(), to.plan().core_hours().mean()), "   ",
                   CountFromTo("need animating", from.needs_animation(), to.needs_animation()), "\n");
  std::vector<std::string> tiers;
  const auto add = [&tiers](const char* what, int64_t was, int64_t is) {
    if (was != is) tiers.push_back(CountFromTo(what, was, is));
  };
  add("full rig", from.full_rig(), to.full_rig());
  add("proxy", from.proxy(), to.proxy());
  add("colour patch", from.colour_patch(), to.colour_patch());
  add("omitted", from.omitted(), to.omitted());
  for (size_t i = 0; i < tiers.size(); ++i) absl::StrAppend(&text, i == 0 ? "  " : "   ", tiers[i]);
  return tiers.empty() ? text : text + "\n";
}

std::string BaselineText(const v1::BaselineChange& change) {
  return absl::StrCat("  against ", Printable(change.label()), ": ", SignedFigure(change.anim_hours()),
                      " animator-hours, ", SignedFigure(change.core_hours()), " core-hours, loss ",
                      change.loss() < 0 ? "-" : "+", Measured(std::abs(change.loss())), ", need animating ",
                      SignedCount(change.needs_animation()), ", objects ", SignedCount(change.objects()), "\n");
}

void AddPart(std::string part, std::string& text) { absl::StrAppend(&text, text.empty() ? "" : ", ", part); }

std::string Objects(int64_t count, const char* what) {
  return absl::StrCat(Count(count), count == 1 ? " object " : " objects ", what);
}

}  // namespace

std::string FileChangeText(const LiveShot& before, const ShotChange& change) {
  int64_t added = 0, removed = 0, changed = 0;
  for (const auto& [id, object] : change.objects) {
    const bool was = before.objects.contains(id);
    added += object && !was;
    changed += object && was;
    removed += !object;
  }
  std::string text;
  if (changed > 0) AddPart(Objects(changed, "changed"), text);
  if (added > 0) AddPart(Objects(added, "added"), text);
  if (removed > 0) AddPart(Objects(removed, "removed"), text);
  if (change.header) AddPart("what stands above the objects changed (frames, cameras, style ...)", text);
  int cameras = 0;
  for (const auto& [id, camera] : change.cameras) {
    if (++cameras <= kShownCameras) AddPart(absl::StrCat("camera ", Printable(id), " changed"), text);
  }
  if (cameras > kShownCameras) AddPart(absl::StrCat(cameras - kShownCameras, " more cameras changed"), text);
  if (change.directives) AddPart("directives changed", text);
  return text.empty() ? "nothing that is planned by" : text;
}

std::string FinalText(const LivePlanUpdate& news, const std::optional<v1::Totals>& before, bool all) {
  std::string text = TimeText("FINAL", news.took) + "\n";
  const v1::Totals& totals = news.update.summary().totals();
  if (before) {
    text += ChangesText(news.changes, all) + TotalsChangeText(*before, totals);
  } else {
    text += TotalsText(totals);
  }
  if (totals.gap() > 0) {
    absl::StrAppend(&text, "  proved within ", Measured(100 * totals.gap()), " % of the least loss\n");
  }
  if (news.update.has_baseline()) text += BaselineText(news.update.baseline());
  return text;
}

std::string SettledText(const LivePlanUpdate& news, const std::optional<v1::Totals>& before) {
  const v1::Totals& totals = news.update.summary().totals();
  const double hours = totals.plan().anim_hours().mean();
  std::string text = TimeText("SETTLED", news.took) + ": ";
  if (before) {
    const auto shown = std::count_if(news.changes.begin(), news.changes.end(), IsShown);
    absl::StrAppend(&text, Objects(shown, shown == 1 ? "changes" : "change"), " tier or need of animation, ",
                    FromTo("animator-hours", before->plan().anim_hours().mean(), hours));
  } else {
    absl::StrAppend(&text, Count(totals.needs_animation()), " of ", Count(totals.objects()), " need animating, ",
                    SumFigure(hours), " animator-hours");
  }
  return text + "; making it final\n";
}

std::string FirstLookText(const LiveProvisional& news) {
  std::string names;
  int64_t whole = 0, in_frame = 0, seen = 0;
  for (const v1::QuickDecision& quick : news.update.quick()) {
    if (quick.basis() == v1::QuickDecision::CURRENT_FRAME) {
      ++in_frame;
      seen += quick.seen();
    } else if (++whole <= kShownLooks) {
      AddPart(absl::StrCat(CutToColumns(Printable(quick.object_id()), kIdColumns), " ", TierWord(quick.tier())), names);
    }
  }
  if (whole > kShownLooks) absl::StrAppend(&names, " and ", Count(whole - kShownLooks), " more");
  // What one frame says of a tier is not the shot's word: it is only counted.
  if (in_frame > 0) AddPart(absl::StrCat(Count(seen), " of ", Objects(in_frame, "seen in the current frame")), names);
  if (names.empty()) return "";
  return absl::StrCat(TimeText("PROVISIONAL", news.took), ": ", names, "; about ", SumFigure(news.update.anim_hours()),
                      " animator-hours\n");
}

}  // namespace scantling::client
