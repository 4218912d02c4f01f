// Read once for the io layer.
#pragma once
#include <nlohmann/json.hpp>

#include "precompiled/standard.hpp"
