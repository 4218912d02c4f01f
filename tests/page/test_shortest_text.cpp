// The page writes numbers as the standard library does where there is one.
#include "page/shortest_text.hpp"

#include <array>
#include <charconv>
#include <cmath>
#include <cstring>
#include <limits>
#include <random>
#include <string>

#include "catch.hpp"

using namespace whorl::page;

namespace {

using Buffer = std::array<char, kLongestText>;

std::string ours(char* (*write)(char*, double), double value) {
  Buffer text{};
  return {text.data(), write(text.data(), value)};
}
template <class... Format>
std::string theirs(double value, Format... format) {
  Buffer text{};
  return {text.data(), std::to_chars(text.data(), text.data() + text.size(), value, format...).ptr};
}

// Nothing where all three forms are the same, else what differs.
std::string off(double value) {
  const std::array<std::array<std::string, 2>, 3> forms{{
      {ours(shortest_text, value), theirs(value)},
      {ours(shortest_fixed, value), theirs(value, std::chars_format::fixed)},
      {ours(shortest_scientific, value), theirs(value, std::chars_format::scientific)},
  }};
  for (const auto& [own, standard] : forms)
    if (own != standard) return own + " instead of " + standard;
  return {};
}

}  // namespace

TEST_CASE("the page's shortest text of a number is that of the standard library") {
  using Limits = std::numeric_limits<double>;
  for (const double value :
       {0.0, -0.0, 1.0, -1.0, 10.0, 100.0, 1e4, 1e5, 123456.0, 1e15, 1e16, 1e17, 1e20, 1e21, 1e22, 1e23,
        9007199254740992.0, 9007199254740993.0, 123456789012345680000.0, 0.1, 0.01, 1e-3, 1.5e-3, 1e-4, 1.25e-4, 1e-5,
        0.3, 2.0 / 3.0, 5e-324, Limits::min(),
        Limits::max(), Limits::epsilon(), Limits::infinity(), -Limits::infinity()})
    CHECK(off(value).empty());

  std::mt19937_64 random(20261128);
  std::string first;
  for (int i = 0; i < 200000 && first.empty(); ++i) {
    double value = 0.0;
    const auto bits = random();
    std::memcpy(&value, &bits, sizeof value);
    if (value == value) first = off(value);
  }
  std::uniform_real_distribution<double> power(-9.0, 9.0);
  for (int i = 0; i < 200000 && first.empty(); ++i) first = off(std::pow(10.0, power(random)));
  for (int i = 0; i < 100000 && first.empty(); ++i) first = off(static_cast<double>(random() % 1000000) / 1000.0);
  for (int i = -1074; i < 1024 && first.empty(); ++i) first = off(std::ldexp(1.0, i));
  CHECK(first == "");
}
