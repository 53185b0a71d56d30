// Cost mixes and an oracle for their spread: the model of costing.h drawn with the standard library's generator.

#ifndef SCANTLING_TESTS_COSTING_MIXES_H_
#define SCANTLING_TESTS_COSTING_MIXES_H_

#include <algorithm>
#include <cmath>
#include <random>
#include <vector>

#include "server/costing/costing.h"

namespace scantling {

// Three classes with spreads that differ by class and tier; hours and core-seconds differ too.
inline RateCard SpreadCard() {
  RateCard card;
  card.classes.resize(3);
  const double hours_cv[3][4] = {{0, 0.2, 0.3, 0.4}, {0, 0.3, 0.3, 0.3}, {0, 0.25, 0.35, 0.2}};
  for (size_t c = 0; c < 3; ++c) {
    for (size_t t = 1; t < 4; ++t) {
      card.classes[c].tier[t].hours_cv = hours_cv[c][t];
      card.classes[c].tier[t].core_cv = 0.5 * hours_cv[c][t];
    }
  }
  card.show_cv_hours = 0.15;
  card.shot_cv_hours = 0.2;
  card.show_cv_core = 0.1;
  card.shot_cv_core = 0.3;
  return card;
}

inline CostMix FullMix() {
  CostMix mix(3);
  mix.Add(0, Tier::kFullRig, 400);
  mix.Add(1, Tier::kFullRig, 250);
  mix.Add(2, Tier::kFullRig, 150);
  mix.AddBase(50);
  return mix;
}

inline CostMix PlanMix() {
  CostMix mix(3);
  mix.Add(0, Tier::kFullRig, 100);
  mix.Add(0, Tier::kProxy, 80);
  mix.Add(0, Tier::kColourPatch, 5);
  mix.Add(1, Tier::kProxy, 60);
  mix.Add(2, Tier::kColourPatch, 10);
  mix.AddBase(50);
  return mix;
}

// Draws of first - second (second may be empty) in hours; both sides share every factor.
inline std::vector<double> DrawHours(const CostMix& first, const CostMix& second, const RateCard& card, size_t draws) {
  std::mt19937_64 random(20240229);
  std::normal_distribution<double> normal;
  const auto factor = [](double cv, double z) {
    const double variance = std::log(1 + cv * cv);
    return std::exp(std::sqrt(variance) * z - variance / 2);
  };
  std::vector<double> result(draws);
  for (double& draw : result) {
    double sum = first.base() - second.base();
    for (size_t c = 0; c < card.classes.size(); ++c) {
      const double z = normal(random);
      for (size_t t = 0; t < 4; ++t) {
        const double difference = first.mean()[c][t] - second.mean()[c][t];
        if (difference != 0) sum += difference * factor(card.classes[c].tier[t].hours_cv, z);
      }
    }
    draw = sum * factor(card.show_cv_hours, normal(random)) * factor(card.shot_cv_hours, normal(random));
  }
  std::sort(result.begin(), result.end());
  return result;
}

inline double QuantileOf(const std::vector<double>& sorted, double share) {
  return sorted[static_cast<size_t>(share * static_cast<double>(sorted.size()))];
}

}  // namespace scantling

#endif  // SCANTLING_TESTS_COSTING_MIXES_H_
