// Objects in blocks joined, and tracks cut to fewer frames. Pure; thread-safe.

#ifndef SCANTLING_CLIENT_LIBRARY_LIVE_CUT_H_
#define SCANTLING_CLIENT_LIBRARY_LIVE_CUT_H_

#include <map>
#include <string>

#include "client/library/live_shot.h"
#include "scantling/v1/scene.pb.h"

namespace scantling::client {

// Puts the only object of `one` (a well-formed block) at the end of `block`. What a column of either does not have is
// filled in as "not given". Linear in `one` but for the tables: each name is looked up among the last few.
void AppendBlock(const v1::ObjectBlock& one, v1::ObjectBlock& block);

// Cuts what the objects have for every frame of `before` to the frames of `after`. Where `after` reaches beyond
// `before`, or they are the same, nothing is changed.
void CutTracks(const v1::FrameRange& before, const v1::FrameRange& after,
               std::map<std::string, LiveObjectPtr>& objects);

}  // namespace scantling::client

#endif  // SCANTLING_CLIENT_LIBRARY_LIVE_CUT_H_
