#pragma once
#include <oneapi/tbb/serial.hpp>
