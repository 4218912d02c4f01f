#include "app/build_info.hpp"

#include <fmt/core.h>
#include <oneapi/tbb/version.h>

#include <boost/version.hpp>
#include <nlohmann/json.hpp>

#include "answer/provenance.hpp"
#include "table/sweep_database.hpp"

#ifdef WHORL_WITH_RSVG
#include <cairo.h>
#include <librsvg/rsvg.h>
#endif

namespace whorl::app {
namespace {

std::string numbers(int major, int minor, int patch) {
  return std::to_string(major) + '.' + std::to_string(minor) + '.' + std::to_string(patch);
}

std::string compiler() {
#if defined(__clang__)
  return "clang " __clang_version__;
#elif defined(__GNUC__)
  return "g++ " __VERSION__;
#else
  return "unknown compiler";
#endif
}

}  // namespace

std::string version_text(const std::string& command_line_library) {
  std::string text = answer::program_and_version() + "\n";
  text += "compiler: " + compiler() + ", C++ " + std::to_string(__cplusplus) + ", build type " WHORL_BUILD_TYPE "\n";
  text += "libraries: Boost " + numbers(BOOST_VERSION / 100000, BOOST_VERSION / 100 % 1000, BOOST_VERSION % 100) +
          ", Eigen " WHORL_EIGEN_VERSION + ", nlohmann_json " +
          numbers(NLOHMANN_JSON_VERSION_MAJOR, NLOHMANN_JSON_VERSION_MINOR, NLOHMANN_JSON_VERSION_PATCH) + ", fmt " +
          numbers(FMT_VERSION / 10000, FMT_VERSION / 100 % 100, FMT_VERSION % 100) + ", oneTBB " +
          TBB_runtime_version() + ", CLI11 " + command_line_library + ", UDUNITS-2";
#ifdef WHORL_WITH_RSVG
  text += fmt::format(", librsvg {}, cairo {}", LIBRSVG_VERSION, CAIRO_VERSION_STRING);
#endif
  if (!table::database_library().empty()) text += ", SQLite " + table::database_library();
  text += "\noptions: PDF and PNG figures ";
#ifdef WHORL_WITH_RSVG
  text += "yes";
#else
  text += "no";
#endif
  text += "; sweeps to SQLite ";
  text += table::database_library().empty() ? "no" : "yes";
  text += "; sanitizers " WHORL_SANITIZERS ", fused multiply-add no, elementary functions ";
#ifdef WHORL_WITH_ELEMENTARY
  text += "of musl\n";
#else
  text += "of the C library\n";
#endif
  text += "property library: sha256:" + answer::built_in_basis().sha256;
  return text;
}

}  // namespace whorl::app
