// Read once for the model layer. Only headers of libraries: one of ours here would rebuild the layer with every edit of
// it.
#pragma once
#include "precompiled/standard.hpp"
