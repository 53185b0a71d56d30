// What of a glTF file's JSON this import reads, checked before tinygltf reads it: tinygltf takes a field of the wrong
// type as absent and keeps indices as they are.

#ifndef SCANTLING_CLIENT_IMPORT_SCHEMA_H_
#define SCANTLING_CLIENT_IMPORT_SCHEMA_H_

#include <string>
#include <vector>

#include "client/import/json.h"
#include "client/import/notes.h"
#include "nlohmann/json.hpp"

namespace scantling::import {

// Adds one fault per field of a wrong type, missing though needed, or pointing past the end of what it points into;
// and for buffers that cannot be: no source, or larger together than kMostGltfBytes. O(document).
void CheckSchema(const nlohmann::json& document, const GltfParts& parts, Notes* faults);

// What was taken out of the document and changes what an object's box or place means.
struct Dropped {
  int skinned_nodes = 0;
  int morphed_meshes = 0;
  int primitives = 0;                            // of all meshes
  std::vector<std::string> required_extensions;  // that this import does not read
};

// Takes out of a checked document what the import never reads (images, materials, indices, skins...), so that neither
// tinygltf nor memory has to deal with it. O(document).
Dropped DropUnread(nlohmann::json* document);

}  // namespace scantling::import

#endif  // SCANTLING_CLIENT_IMPORT_SCHEMA_H_
