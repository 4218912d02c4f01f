// Read once for the table room.
#pragma once
#include <nlohmann/json.hpp>

#include "precompiled/standard.hpp"
