// How sure the sums are.
//
// Model: figure i of class c and tier t is mean_i * F_show * F_shot * F_ct, where each F = exp(s Z - s^2/2) is
// log-normal with mean 1 and s^2 = ln(1 + cv^2). The show and the shot have one Z each, a class has one Z for all its
// tiers (their s may differ), and the Zs are independent. So tiers of a class rise and fall together, classes average
// out, and show and shot do not: that is what keeps the ranges of large sums from closing.
//
// The sum S. With E[F_ct F_cu] = exp(s_t s_u) within a class and 1 between classes,
//   E[S^2] / E[S]^2 = (1 + cv_show^2) (1 + cv_shot^2) (1 + q),
//   q = sum over classes, tiers t, u of mean_ct mean_cu (exp(s_t s_u) - 1) / E[S]^2,
// and the log-normal of the same two moments has sigma^2 = ln of that.
// Source: Fenton, The Sum of Log-Normal Probability Distributions in Scatter Transmission Systems, 1960 (matching the
// first two moments); exp(s_t s_u) is the covariance of log-normals of one Z.
//
// A saving full - plan may have figures of either sign and is no log-normal; its quantiles come from draws in which
// both sides share every Z. Normals are Box-Muller pairs of counter-based uniforms, so draw k of class c is the same
// number whichever other classes are there.
// Source: Box & Muller, A Note on the Generation of Random Normal Deviates, 1958; the counter is SplitMix64 (Steele,
// Lea & Flood, Fast Splittable Pseudorandom Number Generators, 2014).

#include <algorithm>
#include <cmath>
#include <map>
#include <memory>
#include <mutex>
#include <numbers>
#include <utility>

#include "server/costing/costing.h"

namespace scantling {
namespace {

// 90% quantile x of the standard normal: erfc(-x / sqrt 2) / 2 = 0.9.
constexpr double kNormalP90 = 1.2815515655446004;
constexpr uint64_t kSeed = 0x5CA7711D6;  // any; fixed so that answers repeat
constexpr uint64_t kShowStream = 0, kShotStream = 1, kFirstClassStream = 2;

double VarianceOfLog(double cv) { return std::log1p(cv * cv); }

double Cv(const Rate& rate, CostKind kind) { return kind == CostKind::kCoreHours ? rate.core_cv : rate.hours_cv; }

struct CommonCv {
  double show, shot;
};
CommonCv Common(const RateCard& rates, CostKind kind) {
  if (kind == CostKind::kCoreHours) return {rates.show_cv_core, rates.shot_cv_core};
  return {rates.show_cv_hours, rates.shot_cv_hours};
}

PerTier<double> Sigmas(const ClassRates& rates, CostKind kind) {
  PerTier<double> sigma = {};
  for (size_t t = 0; t < sigma.size(); ++t) sigma[t] = std::sqrt(VarianceOfLog(Cv(rates.tier[t], kind)));
  return sigma;
}

// Sum over the tiers t, u of one class of mean_t mean_u (exp(s_t s_u) - 1).
double ClassVariance(const PerTier<double>& mean, const PerTier<double>& sigma) {
  double variance = 0;
  for (size_t t = 0; t < mean.size(); ++t) {
    for (size_t u = 0; u < mean.size(); ++u) variance += mean[t] * mean[u] * std::expm1(sigma[t] * sigma[u]);
  }
  return variance;
}

uint64_t Mix(uint64_t z) {
  z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9u;
  z = (z ^ (z >> 27)) * 0x94D049BB133111EBu;
  return z ^ (z >> 31);
}

// kSavingDraws standard normals of one stream.
std::vector<double> Normals(uint64_t stream) {
  constexpr uint64_t kGamma = 0x9E3779B97F4A7C15u;
  uint64_t state = Mix(kSeed + stream * kGamma);
  const auto unit = [&] { return static_cast<double>((Mix(state += kGamma) >> 11) + 1) * 0x1p-53; };  // (0, 1]
  std::vector<double> normals(kSavingDraws);
  for (size_t k = 0; k < normals.size(); k += 2) {
    const double radius = std::sqrt(-2 * std::log(unit()));
    const double angle = 2 * std::numbers::pi * unit();
    normals[k] = radius * std::cos(angle);
    normals[k + 1] = radius * std::sin(angle);
  }
  return normals;
}
static_assert(kSavingDraws % 2 == 0);

// F of every draw of one stream: exp(s Z - s^2 / 2).
using Factors = std::shared_ptr<const std::vector<double>>;

// A plan asks for the factors of every class some fifteen times, and a shot that is being assembled is planned many
// times a second; they hang on the rate card alone. So they are kept, some dozens of 32 KB for a card; a daemon that
// has seen very many cards begins anew.
Factors FactorsOf(double sigma, uint64_t stream) {
  constexpr size_t kMostKept = 2048;
  static std::mutex mutex;
  static std::map<std::pair<uint64_t, double>, Factors>& kept = *new std::map<std::pair<uint64_t, double>, Factors>();
  const std::scoped_lock lock(mutex);
  if (kept.size() > kMostKept) kept.clear();
  Factors& factors = kept[{stream, sigma}];
  if (factors != nullptr) return factors;
  std::vector<double> made = Normals(stream);
  const double shift = sigma * sigma / 2;
  for (double& z : made) z = std::exp(sigma * z - shift);
  factors = std::make_shared<const std::vector<double>>(std::move(made));
  return factors;
}

// Adds sum over tiers of difference_t F_ct to each draw. Tiers of equal spread share one exponential.
void AddClass(PerTier<double> difference, const PerTier<double>& sigma, uint64_t stream, std::vector<double>& draws) {
  for (size_t t = 0; t < difference.size(); ++t) {
    for (size_t u = t + 1; u < difference.size(); ++u) {
      if (sigma[u] != sigma[t]) continue;
      difference[t] += difference[u];
      difference[u] = 0;
    }
  }
  if (std::all_of(difference.begin(), difference.end(), [](double d) { return d == 0; })) return;
  for (size_t t = 0; t < difference.size(); ++t) {
    if (difference[t] == 0) continue;
    const Factors factors = FactorsOf(sigma[t], stream);
    for (size_t k = 0; k < draws.size(); ++k) draws[k] += difference[t] * (*factors)[k];
  }
}

void MultiplyByCommon(double cv, uint64_t stream, std::vector<double>& draws) {
  if (cv == 0) return;
  const Factors factors = FactorsOf(std::sqrt(VarianceOfLog(cv)), stream);
  for (size_t k = 0; k < draws.size(); ++k) draws[k] *= (*factors)[k];
}

// Straight between the two draws around the quantile, as if they were sorted. `from`: how many of the smallest stand at
// the front already; more of them do afterwards.
double Quantile(std::vector<double>& draws, double share, size_t& from) {
  const double at = share * static_cast<double>(draws.size() - 1);
  const auto below = static_cast<size_t>(at);
  const size_t above = std::min(below + 1, draws.size() - 1);
  const auto place = [&](size_t i) { return draws.begin() + static_cast<std::ptrdiff_t>(i); };
  std::nth_element(place(from), place(below), draws.end());
  std::nth_element(place(below), place(above), draws.end());
  from = above;
  return draws[below] + (at - static_cast<double>(below)) * (draws[above] - draws[below]);
}

}  // namespace

double CostMix::total() const {
  double total = base_;
  for (const PerTier<double>& tiers : mean_) {
    for (const double figure : tiers) total += figure;
  }
  return total;
}

Range RangeOf(const CostMix& mix, CostKind kind, const RateCard& rates) {
  const double mean = mix.total();
  if (mean == 0) return {};
  double class_variance = 0;
  for (size_t c = 0; c < mix.mean().size(); ++c) {
    class_variance += ClassVariance(mix.mean()[c], Sigmas(rates.classes[c], kind));
  }
  const CommonCv common = Common(rates, kind);
  const double variance =
      VarianceOfLog(common.show) + VarianceOfLog(common.shot) + std::log1p(class_variance / (mean * mean));
  const double median = mean * std::exp(-variance / 2);
  const double spread = std::exp(kNormalP90 * std::sqrt(variance));
  return {mean, median / spread, median, median * spread};
}

Range SavingOf(const CostMix& full, const CostMix& plan, CostKind kind, const RateCard& rates) {
  std::vector<double> draws(kSavingDraws, full.base() - plan.base());
  for (size_t c = 0; c < full.mean().size(); ++c) {
    PerTier<double> difference = {};
    for (size_t t = 0; t < difference.size(); ++t) difference[t] = full.mean()[c][t] - plan.mean()[c][t];
    AddClass(difference, Sigmas(rates.classes[c], kind), kFirstClassStream + c, draws);
  }
  const CommonCv common = Common(rates, kind);
  MultiplyByCommon(common.show, kShowStream, draws);
  MultiplyByCommon(common.shot, kShotStream, draws);
  size_t from = 0;
  const double p10 = Quantile(draws, 0.1, from), p50 = Quantile(draws, 0.5, from), p90 = Quantile(draws, 0.9, from);
  return {full.total() - plan.total(), p10, p50, p90};
}

}  // namespace scantling
