// Read once for the solver layer.
#pragma once
#include <Eigen/Core>
#include <Eigen/LU>

#include "precompiled/standard.hpp"
