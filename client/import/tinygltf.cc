// The one place where tinygltf's implementation is compiled; see CMakeLists.txt for what it is built without.
//
// It uses the same nlohmann/json header as json.cc and schema.cc. Its code is not ours to make clean of warnings: it
// comes from a system include folder.

#include <fstream>  // the header's writer uses it but, built without file access, does not include it

#define TINYGLTF_IMPLEMENTATION
#include "tiny_gltf.h"
