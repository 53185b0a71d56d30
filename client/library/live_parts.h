// A change as the edits that carry it, each small enough for a message. Pure; thread-safe.

#ifndef SCANTLING_CLIENT_LIBRARY_LIVE_PARTS_H_
#define SCANTLING_CLIENT_LIBRARY_LIVE_PARTS_H_

#include <cstdint>
#include <functional>

#include "client/library/live_shot.h"
#include "scantling/v1/assembly.pb.h"

namespace scantling::client {

// Parts of a large edit; well under the usual 4 MiB limit of a message.
inline constexpr int64_t kEditPartBytes = int64_t{1} << 20;

// Calls `emit` with the parts of one revision, in order, each of about `part_bytes` (never less than what stands above
// the objects, in the first, and one object); all but the last continue. Objects go as rows and blocks, as they are
// kept. One part at least; `emit` may take its content. Stops where `emit` returns false; returns whether all was
// emitted. Linear; of the change, one part at a time is in memory.
bool EditParts(const ShotChange& change, int64_t revision, int64_t part_bytes,
               const std::function<bool(v1::ShotEdit&)>& emit);

// The change in one edit without a revision, as a what-if takes it.
v1::ShotEdit WhatIfEdit(const ShotChange& change);

// The first message of a new session with this header and these options. Directives, points of interest and crowds are
// left out: they name objects, and come with them.
v1::Begin BeginOf(const ShotChange& first);

}  // namespace scantling::client

#endif  // SCANTLING_CLIENT_LIBRARY_LIVE_PARTS_H_
