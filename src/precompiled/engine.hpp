// Read once for the engine layer.
#pragma once
#include <Eigen/Core>
#include <Eigen/LU>

#include "precompiled/standard.hpp"
