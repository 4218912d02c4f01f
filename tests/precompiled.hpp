// Read once for all tests.
#pragma once
#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>

#include "../src/precompiled/standard.hpp"
#include "catch.hpp"
