// Random numbers that are the same on every platform and compiler, for the demonstration shot.
//
// The standard distributions may differ between libraries, so only integer steps and exact binary scaling are used.
// Source: Guy L. Steele, Doug Lea, Christine H. Flood, Fast Splittable Pseudorandom Number Generators, 2014
// (SplitMix64).

#ifndef SCANTLING_CLIENT_SAMPLE_RANDOM_H_
#define SCANTLING_CLIENT_SAMPLE_RANDOM_H_

#include <cstdint>

namespace scantling::sample {

// One stream per object: a (seed, stream, index) triple always gives the same numbers, whatever else was drawn.
// Not thread-safe; cheap to copy.
class Random {
 public:
  explicit Random(uint64_t seed) : state_(seed) {}
  Random(uint64_t seed, uint64_t stream, uint64_t index) : state_(seed) {
    state_ = Next() ^ (stream * 0xD1342543DE82EF95u);
    state_ = Next() ^ (index * 0xAF251AF3B0F025B5u);
  }

  // All 64-bit values, equally likely.
  uint64_t Next() {
    uint64_t z = (state_ += 0x9E3779B97F4A7C15u);
    z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9u;
    z = (z ^ (z >> 27)) * 0x94D049BB133111EBu;
    return z ^ (z >> 31);
  }

  // [0, 1), in steps of 2^-53.
  double Unit() { return static_cast<double>(Next() >> 11) * 0x1p-53; }

  // [low, high); low where both are equal.
  double Between(double low, double high) { return low + (high - low) * Unit(); }

  // 0 .. count-1; count above 0. The bias of the multiplication is below count / 2^32.
  uint32_t Below(uint32_t count) { return static_cast<uint32_t>(((Next() >> 32) * count) >> 32); }

  // True with the given chance: 0 never, 1 always.
  bool Chance(double chance) { return Unit() < chance; }

 private:
  uint64_t state_;
};

}  // namespace scantling::sample

#endif  // SCANTLING_CLIENT_SAMPLE_RANDOM_H_
