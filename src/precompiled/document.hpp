// Read once for the document room.
#pragma once
#include <nlohmann/json.hpp>

#include "precompiled/standard.hpp"
