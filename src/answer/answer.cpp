#include "answer/answer.hpp"

#include <nlohmann/json.hpp>
#include <ostream>

#include "console/page.hpp"
#include "whorl/model/error.hpp"

namespace whorl::answer {

document::Format answer_format(bool json, const FormArguments& form) {
  const document::Format format = !form.format.empty() ? document::format_of(form.format)
                                  : json               ? document::Format::json
                                                       : document::Format::text;
  if (json && format != document::Format::json)
    throw InputError("", "--format", form.format + " together with --json", "one of the two");
  if (form.fragment && format != document::Format::latex)
    throw InputError("", "--fragment", "without --format latex", "--format latex --fragment");
  return format;
}

void write_answer(document::Document document, document::Format format, bool fragment, const std::vector<Basis>& bases,
                  std::ostream& out) {
  using document::Format;
  if (format == Format::json) {
    nlohmann::ordered_json json = document::json_of(document);
    put_provenance(json, bases);
    out << json.dump(2, ' ', false, nlohmann::ordered_json::error_handler_t::replace) << '\n';
    return;
  }
  if (document.made_by.empty()) document.made_by = provenance_text(bases);
  switch (format) {
    case Format::markdown: out << document::write_markdown(document); break;
    case Format::latex: out << document::write_latex(document, fragment); break;
    case Format::html: out << document::write_html(document); break;
    default: out << document::write_text(document, console::page_columns());
  }
}

}  // namespace whorl::answer
