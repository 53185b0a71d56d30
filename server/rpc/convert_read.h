// Small readings that headers, rows and interests have in common.

#ifndef SCANTLING_SERVER_RPC_CONVERT_READ_H_
#define SCANTLING_SERVER_RPC_CONVERT_READ_H_

#include <array>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "scantling/v1/scene.pb.h"
#include "server/units/frames.h"
#include "server/units/tier.h"
#include "server/units/violations.h"

namespace scantling {

inline FrameRange ReadRange(const v1::FrameRange& range) { return {range.first(), range.last()}; }

inline std::vector<FrameRange> ReadRanges(const google::protobuf::RepeatedPtrField<v1::FrameRange>& ranges) {
  std::vector<FrameRange> read;
  for (const v1::FrameRange& range : ranges) read.push_back(ReadRange(range));
  return read;
}

// nullopt where a part is beyond 255 (then a violation was recorded under `path`.red ...).
std::optional<std::array<uint8_t, 3>> ReadColour(const v1::Colour& colour, const std::string& path,
                                                 Violations& violations);

// nullopt where it is not one of the four tiers (then a violation was recorded).
std::optional<Tier> ReadTier(v1::Tier tier, const std::string& field, Violations& violations);

}  // namespace scantling

#endif  // SCANTLING_SERVER_RPC_CONVERT_READ_H_
