// Read once for the figures room.
#pragma once
#include "precompiled/standard.hpp"
