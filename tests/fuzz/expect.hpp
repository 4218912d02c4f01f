// For fuzz targets: a property that must hold for every input. Not an assert: it also holds in release builds.
#pragma once
#include <cstdio>
#include <cstdlib>

#define WHORL_EXPECT(condition)                                                        \
  do {                                                                                 \
    if (!(condition)) {                                                                \
      std::fprintf(stderr, "%s:%d: %s does not hold\n", __FILE__, __LINE__, #condition); \
      std::abort();                                                                    \
    }                                                                                  \
  } while (false)
