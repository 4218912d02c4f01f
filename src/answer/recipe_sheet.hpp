// The sheet for the bench.
#pragma once
#include <string>

#include "io/sheet.hpp"
#include "whorl/study/loaded_case.hpp"
#include "whorl/study/recipe.hpp"

namespace whorl::answer {

/// `country`: whose exposure limits, two letters; empty: all.
[[nodiscard]] io::Sheet sheet_of(const study::LoadedCase& loaded, const study::Recipe& r, const study::RecipeOptions& o,
                                 const std::string& country);

}  // namespace whorl::answer
