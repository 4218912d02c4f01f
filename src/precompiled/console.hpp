// Read once for the console room.
#pragma once
#include "precompiled/standard.hpp"
