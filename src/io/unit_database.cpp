// Conversions through UDUNITS-2. The only file that includes it, so that a build without it (the page) leaves out this
// one.
#include <udunits2.h>

#include <array>
#include <cmath>
#include <map>
#include <memory>
#include <mutex>
#include <string>
#include <string_view>
#include <utility>

#include "io/unit_text.hpp"
#include "whorl/model/error.hpp"

namespace whorl::io {
namespace {

/// UDUNITS keeps global state (parser, last status), so every call goes through one lock.
class UnitSystem {
 public:
  UnitSystem(const UnitSystem&) = delete;
  UnitSystem& operator=(const UnitSystem&) = delete;
  ~UnitSystem() {
    cache_.clear();
    ut_free_system(system_);
  }

  static UnitSystem& instance() {
    static UnitSystem system;
    return system;
  }

  UnitMatch converter(const std::string& from, const std::string& to, const cv_converter*& found) {
    auto pair = std::make_pair(from, to);
    auto known = cache_.find(pair);
    if (known == cache_.end()) {
      // Texts with ever new unknown units must not fill the memory.
      if (cache_.size() >= kCacheLimit) cache_.clear();
      known = cache_.emplace(std::move(pair), make(from, to)).first;
    }
    found = known->second.conversion.get();
    return known->second.match;
  }

  static std::mutex& mutex() {
    static std::mutex lock;
    return lock;
  }

 private:
  static constexpr std::size_t kCacheLimit = 10000;

  struct FreeConverter {
    void operator()(cv_converter* conversion) const { cv_free(conversion); }
  };
  using Converter = std::unique_ptr<cv_converter, FreeConverter>;
  struct Known {
    UnitMatch match{UnitMatch::unknown};
    Converter conversion;
  };

  UnitSystem() {
    ut_set_error_message_handler(ut_ignore);
    system_ = ut_read_xml(nullptr);
    if (system_ == nullptr)
      throw InputError("", "units database", "UDUNITS-2 finds no unit definitions (udunits2.xml)",
                       "install the UDUNITS-2 data files, or set UDUNITS2_XML_PATH to them");
    // The dalton as chemists write a molar mass; prefixes (kDa) then follow from the system.
    alias("Da", "g/mol");
    alias("dalton", "g/mol");
    alias("cP", "centipoise");
    alias("dyn", "dyne");
  }

  void alias(const char* symbol, const char* definition) {
    if (ut_unit* unit = ut_parse(system_, definition, UT_UTF8); unit != nullptr) {
      ut_map_symbol_to_unit(symbol, UT_UTF8, unit);
      ut_free(unit);
    }
  }

  /// UDUNITS treats the radian as a plain 1. Here it counts: 200 Hz is not 200 rad/s.
  static bool has_angle(const ut_unit* unit) {
    std::array<char, 256> buffer{};
    const int length = ut_format(unit, buffer.data(), buffer.size(), UT_ASCII | UT_DEFINITION);
    return length > 0 && std::string_view(buffer.data()).find("rad") != std::string_view::npos;
  }

  /// UDUNITS also converts a unit into its reciprocal (m into 1/m) and logarithmic units: neither is wanted here.
  static bool is_affine(const cv_converter* conversion) {
    const double at1 = cv_convert_double(conversion, 1.0);
    const double at2 = cv_convert_double(conversion, 2.0);
    const double at3 = cv_convert_double(conversion, 3.0);
    constexpr double kRounding = 1e-9;
    return std::abs((at3 - at2) - (at2 - at1)) <= kRounding * std::abs(at3 - at1);
  }

  [[nodiscard]] Known make(const std::string& from, const std::string& to) const {
    ut_unit* source = ut_parse(system_, from.c_str(), UT_UTF8);
    ut_unit* target = source == nullptr ? nullptr : ut_parse(system_, to.c_str(), UT_UTF8);
    Known known;
    if (target != nullptr) {
      known.match = UnitMatch::wrong_dimension;
      if (ut_are_convertible(source, target) != 0 && has_angle(source) == has_angle(target)) {
        known.conversion.reset(ut_get_converter(source, target));
        if (known.conversion != nullptr && is_affine(known.conversion.get())) known.match = UnitMatch::converted;
      }
    }
    ut_free(source);
    ut_free(target);
    return known;
  }

  ut_system* system_{};
  std::map<std::pair<std::string, std::string>, Known> cache_;
};

}  // namespace

UnitMatch convert_unit(double number, const std::string& from, const std::string& to, double& value) {
  const UnitMatch plain = convert_plain_unit(number, from, to, value);
  return plain == UnitMatch::unknown ? convert_database_unit(number, from, to, value) : plain;
}

UnitMatch convert_database_unit(double number, const std::string& from, const std::string& to, double& value) {
  const std::lock_guard<std::mutex> lock(UnitSystem::mutex());
  const cv_converter* conversion = nullptr;
  const UnitMatch match = UnitSystem::instance().converter(from, to, conversion);
  if (match == UnitMatch::converted) value = cv_convert_double(conversion, number);
  return match;
}

}  // namespace whorl::io
