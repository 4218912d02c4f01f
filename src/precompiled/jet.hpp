// Read once for the jet room.
#pragma once
#include <Eigen/Core>
#include <Eigen/LU>

#include "precompiled/standard.hpp"
