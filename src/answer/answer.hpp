// How a command answers: its document in the form that was asked for.
#pragma once
#include <iosfwd>
#include <vector>

#include "answer/form.hpp"
#include "answer/provenance.hpp"
#include "document/write.hpp"

namespace whorl::answer {

/// Error: InputError for a word that is no format, for two forms at once, and for a fragment of something else than
/// LaTeX.
[[nodiscard]] document::Format answer_format(bool json, const FormArguments& form);

/// The document with what it rests on as its last line, or, in JSON, under the usual names.
void write_answer(document::Document document, document::Format format, bool fragment, const std::vector<Basis>& bases,
                  std::ostream& out);

}  // namespace whorl::answer
