// An estimate as a document: the answer first, then every number behind it as tables for a thesis.
#pragma once
#include "document/document.hpp"
#include "whorl/study/loaded_case.hpp"
#include "whorl/study/uncertainty.hpp"

namespace whorl::answer {

/// `doubt`: bands of --uncertainty, or nullptr.
[[nodiscard]] document::Document estimate_document(const study::LoadedCase& loaded, const model::Estimate& estimate,
                                                   const study::UncertaintyReport* doubt);

/// What --cautions prints.
[[nodiscard]] document::Document cautions_document(const study::LoadedCase& loaded);

}  // namespace whorl::answer
