// Read once for the program: what io has, and threads.
#pragma once
#include <filesystem>
#include <nlohmann/json.hpp>
#include <ostream>

#include "precompiled/standard.hpp"
