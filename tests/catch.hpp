// Catch2 2.x (Debian 12) and 3.x (Debian 13, Ubuntu 24.04) behind one include.
#pragma once
#if __has_include(<catch2/catch_all.hpp>)
#include <catch2/catch_all.hpp>
using Catch::Approx;  // version 2 has it in the global namespace already
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;
#else
#include <catch2/catch.hpp>
using Catch::WithinAbs;
using Catch::WithinRel;
#endif
