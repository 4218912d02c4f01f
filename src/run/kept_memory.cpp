#include "run/kept_memory.hpp"

#include <cstdlib>  // defines __GLIBC__
#ifdef __GLIBC__
#include <malloc.h>
#endif

namespace whorl::run {

void keep_memory() {
#ifdef __GLIBC__
  constexpr int kMegabyte = 1 << 20;
  // refused settings leave the library's own, which is as right and a little slower
  mallopt(M_MMAP_THRESHOLD, 32 * kMegabyte);  // the most that it takes
  mallopt(M_TRIM_THRESHOLD, 256 * kMegabyte);
  mallopt(M_TOP_PAD, 4 * kMegabyte);
#endif
}

}  // namespace whorl::run
