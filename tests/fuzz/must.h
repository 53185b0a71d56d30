// A claim that ends the program where it is broken, which is how a fuzz target reports; and classes to parse against.

#ifndef SCANTLING_TESTS_FUZZ_MUST_H_
#define SCANTLING_TESTS_FUZZ_MUST_H_

#include <cstdio>
#include <cstdlib>

#include "server/policy/types.h"

namespace scantling::fuzz {

#define SCANTLING_MUST(condition)                                                  \
  do {                                                                             \
    if (!(condition)) {                                                            \
      std::fprintf(stderr, "%s:%d: broken: %s\n", __FILE__, __LINE__, #condition); \
      std::abort();                                                                \
    }                                                                              \
  } while (false)

inline ClassCatalogue Catalogue() {
  ClassCatalogue catalogue;
  for (const char* name : {"person", "vehicle", "dwelling", "prop"}) {
    catalogue.classes.emplace_back();
    catalogue.classes.back().name = name;
  }
  catalogue.classes[1].solidity = 0.3;  // vehicle: seen through
  catalogue.classes[2].inner_box = 0.9;
  return catalogue;
}

}  // namespace scantling::fuzz

#endif  // SCANTLING_TESTS_FUZZ_MUST_H_
