// The texts and sheets of io as documents, so that they come out in every form.
#pragma once
#include "document/document.hpp"
#include "io/sheet.hpp"
#include "whorl/io/prose.hpp"

namespace whorl::document {

[[nodiscard]] Document document_of(const io::Prose& prose);

/// `made_by` of the sheet is the last line; its rows have no keys: a sheet has a JSON of its own (io::sheet_json).
[[nodiscard]] Document document_of(const io::Sheet& sheet);

}  // namespace whorl::document
