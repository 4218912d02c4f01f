// Read once for the answer room.
#pragma once
#include <nlohmann/json.hpp>

#include "precompiled/standard.hpp"
