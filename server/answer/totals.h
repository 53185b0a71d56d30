// Totals of a plan: counts, ranges, savings, proof.

#ifndef SCANTLING_SERVER_ANSWER_TOTALS_H_
#define SCANTLING_SERVER_ANSWER_TOTALS_H_

#include <vector>

#include "server/answer/answer.h"

namespace scantling {

// O(n). Sums go in canonical order, so that the order of sending changes no bit.
Totals TotalsOf(const AnswerInput& input, const std::vector<Decision>& decisions);

}  // namespace scantling

#endif  // SCANTLING_SERVER_ANSWER_TOTALS_H_
