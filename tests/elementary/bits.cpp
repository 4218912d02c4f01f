// Prints what the test `elementary` states of every function, to be held against the same of the page's module:
// NAME BITS, a line each.
#include <cinttypes>
#include <cstdio>

#include "elementary/elementary.hpp"

int main() {
  for (const auto& function : elementary::kFunctions)
    std::printf("%s %016" PRIx64 "\n", function.name.data(), elementary::bits_of(function));
}
