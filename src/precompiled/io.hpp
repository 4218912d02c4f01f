// Read once for the io layer, and for the rooms above it that are compiled as it is.
#pragma once
#include <filesystem>
#include <nlohmann/json.hpp>
#include <ostream>

#include "precompiled/standard.hpp"
