// What is best paid at given prices, asset by asset.

#ifndef SCANTLING_SERVER_BUDGET_FIXED_GUESS_H_
#define SCANTLING_SERVER_BUDGET_FIXED_GUESS_H_

#include <cstdint>
#include <vector>

#include "server/budget/fixed_forest.h"
#include "server/budget/fixed_terms.h"

namespace scantling::budget {

// Terms in blocks: in one are those most of whose users are the same, as the rigs, cycles and memory of one asset are.
// What a block pays is chosen as a whole, the others as they are: exact where users of a block stand in trees of their
// own, otherwise near.
class BlockGuess {
 public:
  // Decided terms are in no block. `core` and `terms` must outlive it.
  BlockGuess(const Core& core, const std::vector<Term>& terms, const PaidChoice& choice);

  // One round over all blocks. `forest`: every user of an undecided term that the guess leaves unpaid is charged
  // `charge` of the term; on return so again, for the new guess. `due`: per term, its price.
  // O(users * depth * kLevels + users * 2^(terms of a block, at most 4; beyond that their square)).
  void Improve(const std::vector<Wide>& due, const std::vector<Wide>& charge, PricedForest* forest,
               std::vector<uint8_t>* guess);

 private:
  struct Block {
    std::vector<int32_t> terms;
    std::vector<int32_t> nodes;  // users of any of them
    std::vector<uint8_t> asks;   // [node's place * terms + term's place]: levels of the node that need the term
  };

  void MakeBlock(std::vector<int32_t> members);
  std::vector<uint8_t> AllowedBy(const Block& block, uint32_t paid) const;
  Wide ValueOf(const Block& block, const std::vector<Wide>& due, uint32_t paid) const;
  uint32_t Best(const Block& block, const std::vector<Wide>& due, uint32_t paid) const;

  const Core& core_;
  const std::vector<Term>& terms_;
  std::vector<Block> blocks_;
  std::vector<Wide> excess_;  // of the block at hand: [node's place * kLevels + level]
};

}  // namespace scantling::budget

#endif  // SCANTLING_SERVER_BUDGET_FIXED_GUESS_H_
