// An estimate as a document: the answer first, then every number behind it as tables for a thesis.
#pragma once
#include "app/estimate.hpp"
#include "app/uncertainty.hpp"
#include "document/document.hpp"

namespace whorl::app {

/// `doubt`: bands of --uncertainty, or nullptr.
[[nodiscard]] document::Document estimate_document(const LoadedCase& loaded, const model::Estimate& estimate,
                                                   const UncertaintyReport* doubt);

/// What --cautions prints.
[[nodiscard]] document::Document cautions_document(const LoadedCase& loaded);

}  // namespace whorl::app
