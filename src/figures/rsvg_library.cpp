#include "figures/rsvg_library.hpp"

#include <dlfcn.h>

namespace whorl::figures {

namespace {

// Of the version that the headers are of; the second is that of macOS.
#ifdef __APPLE__
constexpr const char* kFile = "librsvg-2.2.dylib";
#else
constexpr const char* kFile = "librsvg-2.so.2";
#endif

}  // namespace

RsvgLibrary load_rsvg(const char* file) {
  RsvgLibrary out;
  void* library = ::dlopen(file, RTLD_NOW | RTLD_LOCAL);
  if (library == nullptr) {
    const char* reason = ::dlerror();
    out.missing = reason != nullptr ? reason : file;
    return out;
  }
  // Looks through the library and those it needs: cairo and GLib are among them.
#define WHORL_RSVG_FIND(name)                                                  \
  out.name = reinterpret_cast<decltype(out.name)>(::dlsym(library, #name)); \
  if (out.name == nullptr) out.missing = std::string(file) + " has no " #name;
  WHORL_RSVG_FUNCTIONS(WHORL_RSVG_FIND)
#undef WHORL_RSVG_FIND
  return out;
}

const RsvgLibrary& rsvg() {
  static const RsvgLibrary library = load_rsvg(kFile);
  return library;
}

}  // namespace whorl::figures
