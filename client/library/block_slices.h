// Cuts packed columns into pieces that fit into a message.

#ifndef SCANTLING_CLIENT_LIBRARY_BLOCK_SLICES_H_
#define SCANTLING_CLIENT_LIBRARY_BLOCK_SLICES_H_

#include <cstdint>
#include <functional>

#include "scantling/v1/scene.pb.h"

namespace scantling::client {

// Whether every column of `block` is as long as its first ones say, so that it can be cut. `frames`: of the shot.
// Linear.
bool IsWellFormed(const v1::ObjectBlock& block, int64_t frames);

// Calls `emit` with pieces of `block`, in order, each of about `piece_bytes` (never less than one object), with tables
// that hold only what the piece names. A block that fits, or that is not well-formed, is emitted as it is: the daemon
// says what is wrong with it. Stops when `emit` returns false; returns whether all was emitted. Linear in the block;
// thread-safe.
bool SliceBlock(const v1::ObjectBlock& block, int64_t frames, int64_t piece_bytes,
                const std::function<bool(const v1::ObjectBlock&)>& emit);

}  // namespace scantling::client

#endif  // SCANTLING_CLIENT_LIBRARY_BLOCK_SLICES_H_
