// Accessor -> view -> buffer, with every step checked against the one below it before a byte is read.
//
// All sizes are 64-bit: counts and offsets come from the file as up to 31 bits each, and their products fit. An element
// starts at accessor offset + view offset + index * stride, where the stride is the view's, or the element's size.
// Source: glTF 2.0 Specification, sections 3.6.2 (accessors) and 3.11 (normalized integers).

#include "client/import/accessor.h"

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <cstring>
#include <limits>

#include "absl/strings/str_cat.h"

namespace scantling::import {
namespace {

uint64_t ComponentBytes(int type) {
  switch (type) {
    case TINYGLTF_COMPONENT_TYPE_BYTE:
    case TINYGLTF_COMPONENT_TYPE_UNSIGNED_BYTE:
      return 1;
    case TINYGLTF_COMPONENT_TYPE_SHORT:
    case TINYGLTF_COMPONENT_TYPE_UNSIGNED_SHORT:
      return 2;
    case TINYGLTF_COMPONENT_TYPE_UNSIGNED_INT:
    case TINYGLTF_COMPONENT_TYPE_FLOAT:
      return 4;
    default:
      return 0;
  }
}

// Matrix columns of small components are padded to four bytes; those are never read here, so their size is a lower
// bound, which is enough to keep reads of other kinds inside.
uint64_t ComponentCount(int type) {
  const int32_t count = tinygltf::GetNumComponentsInType(static_cast<uint32_t>(type));
  return count < 1 ? 0 : static_cast<uint64_t>(count);
}

uint64_t StrideOf(const tinygltf::Model& model, const tinygltf::Accessor& accessor) {
  const uint64_t stride = model.bufferViews[accessor.bufferView].byteStride;
  return stride != 0 ? stride : ComponentBytes(accessor.componentType) * ComponentCount(accessor.type);
}

void CheckView(const tinygltf::Model& model, size_t index, Notes* faults) {
  const tinygltf::BufferView& view = model.bufferViews[index];
  const uint64_t size = model.buffers[view.buffer].data.size();
  const uint64_t end = static_cast<uint64_t>(view.byteOffset) + view.byteLength;
  if (end > size) {
    faults->Add(absl::StrCat("bufferViews[", index, "]"),
                absl::StrCat("got an end at byte ", end, ", want at most the ", size, " of its buffer"));
  }
}

void CheckAccessor(const tinygltf::Model& model, size_t index, Notes* faults) {
  const tinygltf::Accessor& accessor = model.accessors[index];
  const std::string where = absl::StrCat("accessors[", index, "]");
  const uint64_t element = ComponentBytes(accessor.componentType) * ComponentCount(accessor.type);
  if (element == 0) {
    return faults->Add(where, absl::StrCat("got component type ", accessor.componentType, " and type ", accessor.type,
                                           ", want those of glTF 2.0"));
  }
  if (accessor.count < 1) return faults->Add(where + ".count", "got 0, want at least 1");
  if (accessor.bufferView < 0) return;  // all zero, or packed by an extension; refused where it is read
  const tinygltf::BufferView& view = model.bufferViews[accessor.bufferView];
  const uint64_t stride = StrideOf(model, accessor);
  if (stride < element) {
    return faults->Add(where, absl::StrCat("got a stride of ", stride, " bytes, want at least ", element));
  }
  const uint64_t end = accessor.byteOffset + (accessor.count - 1) * stride + element;
  if (end > view.byteLength) {
    faults->Add(where, absl::StrCat("got an end at byte ", end, ", want at most the ", view.byteLength,
                                    " of bufferViews[", accessor.bufferView, "]"));
  }
}

template <typename T>
T Load(const unsigned char* at) {
  T value;
  std::memcpy(&value, at, sizeof value);  // glTF and every platform this builds for are little-endian
  return value;
}

template <typename T>
double LoadInteger(const unsigned char* at, bool normalized) {
  const double value = Load<T>(at);
  return normalized ? std::max(value / std::numeric_limits<T>::max(), -1.0) : value;
}

double LoadComponent(const unsigned char* at, const tinygltf::Accessor& accessor) {
  switch (accessor.componentType) {
    case TINYGLTF_COMPONENT_TYPE_BYTE:
      return LoadInteger<int8_t>(at, accessor.normalized);
    case TINYGLTF_COMPONENT_TYPE_UNSIGNED_BYTE:
      return LoadInteger<uint8_t>(at, accessor.normalized);
    case TINYGLTF_COMPONENT_TYPE_SHORT:
      return LoadInteger<int16_t>(at, accessor.normalized);
    case TINYGLTF_COMPONENT_TYPE_UNSIGNED_SHORT:
      return LoadInteger<uint16_t>(at, accessor.normalized);
    case TINYGLTF_COMPONENT_TYPE_UNSIGNED_INT:
      return LoadInteger<uint32_t>(at, accessor.normalized);
    default:
      return Load<float>(at);
  }
}

bool IsMatrix(int type) { return type >= TINYGLTF_TYPE_MAT2 && type <= TINYGLTF_TYPE_MAT4; }

// Why an accessor cannot be read as `components` numbers an element; empty: it can.
std::string Unreadable(const tinygltf::Accessor& accessor, int components, int64_t most) {
  const uint64_t got = ComponentCount(accessor.type);
  if (got != static_cast<uint64_t>(components) || IsMatrix(accessor.type)) {
    return absl::StrCat("got ", got, IsMatrix(accessor.type) ? " numbers of a matrix" : " numbers",
                        " an element, want ", components);
  }
  if (accessor.sparse.isSparse) return "got a sparse accessor, want a plain one";
  if (accessor.bufferView < 0) return "got an accessor without a buffer view, want one with it";
  if (static_cast<int64_t>(accessor.count) > most) {
    return absl::StrCat("got ", accessor.count, " elements, want at most ", most);
  }
  return "";
}

// Calls see(number, component) for every number; false at the first that is not finite.
template <typename See>
bool ForEachNumber(const tinygltf::Model& model, const tinygltf::Accessor& accessor, int components, See see) {
  const tinygltf::BufferView& view = model.bufferViews[accessor.bufferView];
  const unsigned char* at = model.buffers[view.buffer].data.data() + view.byteOffset + accessor.byteOffset;
  const uint64_t step = ComponentBytes(accessor.componentType);
  const uint64_t stride = StrideOf(model, accessor);
  for (size_t i = 0; i < accessor.count; ++i, at += stride) {
    for (int c = 0; c < components; ++c) {
      const double number = LoadComponent(at + c * step, accessor);
      if (!std::isfinite(number)) return false;
      see(number, c);
    }
  }
  return true;
}

constexpr char kNotFinite[] = "got a number that is not finite, want all finite";

std::optional<Bounds> CheckedBounds(const Bounds& bounds, const std::string& where, Notes* faults) {
  for (int axis = 0; axis < 3; ++axis) {
    if (!std::isfinite(bounds.min_m[axis]) || !std::isfinite(bounds.max_m[axis])) {
      faults->Add(where, kNotFinite);
      return std::nullopt;
    }
    if (bounds.min_m[axis] > bounds.max_m[axis]) {
      faults->Add(where,
                  absl::StrCat("got min ", bounds.min_m[axis], " above max ", bounds.max_m[axis], ", want not above"));
      return std::nullopt;
    }
  }
  return bounds;
}

// min and max are given as stored, so normalized ones are scaled as the numbers would be.
Bounds GivenBounds(const tinygltf::Accessor& accessor) {
  double scale = 1;
  if (accessor.normalized) {
    const uint64_t bits = 8 * ComponentBytes(accessor.componentType);
    const bool is_signed = accessor.componentType == TINYGLTF_COMPONENT_TYPE_BYTE ||
                           accessor.componentType == TINYGLTF_COMPONENT_TYPE_SHORT;
    scale = std::ldexp(1.0, static_cast<int>(bits) - is_signed) - 1;
  }
  Bounds bounds;
  for (int axis = 0; axis < 3; ++axis) {
    bounds.min_m[axis] = std::max(accessor.minValues[axis] / scale, accessor.normalized ? -1.0 : -HUGE_VAL);
    bounds.max_m[axis] = accessor.maxValues[axis] / scale;
  }
  return bounds;
}

}  // namespace

void CheckAccessors(const tinygltf::Model& model, Notes* faults) {
  for (size_t i = 0; i < model.bufferViews.size(); ++i) CheckView(model, i, faults);
  if (!faults->empty()) return;
  for (size_t i = 0; i < model.accessors.size(); ++i) CheckAccessor(model, i, faults);
}

std::vector<double> ReadNumbers(const tinygltf::Model& model, int accessor, int components, int64_t most,
                                const std::string& where, Notes* faults) {
  const tinygltf::Accessor& from = model.accessors[accessor];
  const std::string place = absl::StrCat(where, " (accessors[", accessor, "])");
  std::vector<double> numbers;
  if (const std::string why = Unreadable(from, components, most); !why.empty()) {
    faults->Add(place, why);
    return numbers;
  }
  numbers.reserve(from.count * components);
  if (!ForEachNumber(model, from, components, [&numbers](double number, int) { numbers.push_back(number); })) {
    faults->Add(place, kNotFinite);
    numbers.clear();
  }
  return numbers;
}

std::optional<Bounds> PositionBounds(const tinygltf::Model& model, int accessor, Notes* faults) {
  const tinygltf::Accessor& from = model.accessors[accessor];
  const std::string where = absl::StrCat("accessors[", accessor, "]");
  if (from.type != TINYGLTF_TYPE_VEC3) {
    faults->Add(where, "got a POSITION that is no VEC3, want VEC3");
    return std::nullopt;
  }
  if (from.minValues.size() == 3 && from.maxValues.size() == 3) {
    return CheckedBounds(GivenBounds(from), where, faults);
  }
  if (const std::string why = Unreadable(from, 3, INT64_MAX); !why.empty()) {
    faults->Add(where, absl::StrCat(why, ", or min and max of three numbers"));
    return std::nullopt;
  }
  Bounds bounds = {{HUGE_VAL, HUGE_VAL, HUGE_VAL}, {-HUGE_VAL, -HUGE_VAL, -HUGE_VAL}};
  const bool finite = ForEachNumber(model, from, 3, [&bounds](double number, int axis) {
    bounds.min_m[axis] = std::min(bounds.min_m[axis], number);
    bounds.max_m[axis] = std::max(bounds.max_m[axis], number);
  });
  if (!finite) {
    faults->Add(where, kNotFinite);
    return std::nullopt;
  }
  return CheckedBounds(bounds, where, faults);
}

}  // namespace scantling::import
