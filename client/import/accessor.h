// Numbers out of a glTF file's buffers.

#ifndef SCANTLING_CLIENT_IMPORT_ACCESSOR_H_
#define SCANTLING_CLIENT_IMPORT_ACCESSOR_H_

#include <optional>
#include <string>
#include <vector>

#include "client/import/notes.h"
#include "tiny_gltf.h"

namespace scantling::import {

// Adds a fault for every view that leaves its buffer, every accessor that leaves its view, has a component or element
// type unknown, a stride that is none, or counts nothing. O(views + accessors).
void CheckAccessors(const tinygltf::Model& model, Notes* faults);

// All elements of an accessor as numbers, one element after another. Normalized integers become -1..1 or 0..1 (section
// 3.11). Precondition: CheckAccessors found no fault. Adds a fault to `where` and returns nothing if the accessor is
// not of `components` numbers an element, is sparse, has no view, counts more than `most` elements, or holds a number
// that is not finite.
std::vector<double> ReadNumbers(const tinygltf::Model& model, int accessor, int components, int64_t most,
                                const std::string& where, Notes* faults);

struct Bounds {
  double min_m[3];
  double max_m[3];
};

// The box of a POSITION accessor: its min and max where it has both, else from its numbers. none with a fault if they
// are not three finite numbers each, min not above max.
std::optional<Bounds> PositionBounds(const tinygltf::Model& model, int accessor, Notes* faults);

}  // namespace scantling::import

#endif  // SCANTLING_CLIENT_IMPORT_ACCESSOR_H_
