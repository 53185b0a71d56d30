// What only some objects of the demonstration shot have: windows to be seen through, a hull that hides, shadows, light
// and reflections that fall into the picture, holds shared in a field.

#ifndef SCANTLING_CLIENT_SAMPLE_PARTICULARS_H_
#define SCANTLING_CLIENT_SAMPLE_PARTICULARS_H_

#include "client/sample/staging.h"
#include "scantling/v1/scene.pb.h"

namespace scantling::sample {

// Particulars of object `index` of its role, in a shot of frames first .. first + frames - 1. False where it has none.
bool FillParticulars(const Set& set, const Staged& object, int index, v1::FrameRange shot, v1::Particulars* out);

// Frames of the shot at which every pose may start anew: where the whip begins and where it ends.
void AddBeats(v1::FrameRange shot, v1::Shot* out);

}  // namespace scantling::sample

#endif  // SCANTLING_CLIENT_SAMPLE_PARTICULARS_H_
