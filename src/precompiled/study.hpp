// Read once for the study room.
#pragma once
#include <nlohmann/json.hpp>

#include "precompiled/standard.hpp"
