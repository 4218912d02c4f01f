// Read once for the run room.
#pragma once
#include <nlohmann/json.hpp>

#include "precompiled/standard.hpp"
