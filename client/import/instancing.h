// EXT_mesh_gpu_instancing: many placings of one node's mesh.

#ifndef SCANTLING_CLIENT_IMPORT_INSTANCING_H_
#define SCANTLING_CLIENT_IMPORT_INSTANCING_H_

#include <optional>
#include <vector>

#include "client/import/matrix.h"
#include "client/import/notes.h"
#include "tiny_gltf.h"

namespace scantling::import {

// Instances a node asks for; none: it is not instanced. 0 with a fault where its attributes disagree in count or hold
// none of TRANSLATION, ROTATION, SCALE.
std::optional<int64_t> CountInstances(const tinygltf::Model& model, int node, Notes* faults);

// The instances' matrices, to be put between the node's world matrix and its mesh. Precondition: CountInstances gave
// `count`, without fault. Faults: an attribute of another type, not readable, or a rotation of length 0.
std::vector<Matrix> ReadInstances(const tinygltf::Model& model, int node, int64_t count, Notes* faults);

}  // namespace scantling::import

#endif  // SCANTLING_CLIENT_IMPORT_INSTANCING_H_
