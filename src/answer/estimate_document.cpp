#include "answer/estimate_document.hpp"

#include <cmath>
#include <cstdint>
#include <string>
#include <utility>

#include "answer/estimate_answer.hpp"
#include "whorl/io/cautions.hpp"
#include "whorl/io/outputs.hpp"

namespace whorl::answer {
namespace {

using document::Block;
using document::Document;
using document::Quantities;
using document::Section;
using document::Sentence;
using document::Table;

std::string unit_of(std::string_view unit) { return unit == "1" ? std::string() : std::string(unit); }

Table results_table(const model::Estimate& e) {
  Table table{"", {}, {{"", "quantity"}, {"", "symbol"}, {"", "value"}, {"", "unit"}}, {}};
  for (const io::Output& output : io::outputs()) {
    const auto value = io::output_value(output, e);
    if (!value) continue;
    document::Value shown = *value;
    if (output.kind == io::OutputKind::boolean) shown = *value != 0.0;
    if (output.kind == io::OutputKind::whole) shown = static_cast<std::int64_t>(*value);
    table.rows.push_back({std::string(output.description), std::string(output.symbol), shown, unit_of(output.unit)});
  }
  return table;
}

Table groups_table(const model::Estimate& e) {
  Table table{"", {}, {{"", "group"}, {"", "symbol"}, {"", "definition"}, {"", "value"}}, {}};
  for (const model::Group& group : e.groups)
    table.rows.push_back({group.key, group.symbol, group.definition, group.value});
  return table;
}

Quantities properties(const model::Estimate& e) {
  Quantities rows;
  for (const model::NamedProperty& named : e.properties) {
    document::Quantity row{"", named.key, named.property.value, named.unit};
    if (named.property.relative_sd > 0.0) row.sd = named.property.relative_sd * std::abs(named.property.value);
    row.source = named.property.source;
    rows.rows.push_back(std::move(row));
  }
  return rows;
}

Section uncertainty_section(const study::UncertaintyReport& report) {
  Section section{"How certain"};
  section.blocks.emplace_back(Sentence{"Median and 5 to 95 % band of " + std::to_string(report.all.samples) +
                                       " samples of every doubt; " + std::to_string(report.all.not_converged) +
                                       " of them without a result."});
  Table table{"", {}, {{"", "quantity"}, {"", "median"}, {"", "5 %"}, {"", "95 %"}, {"", "unit"}}, {}};
  for (std::size_t k = 0; k < report.outputs.size(); ++k) {
    const auto& band = report.all.bands[k];
    if (!band) continue;
    const io::Output& output = *report.outputs[k];
    table.rows.push_back({std::string(output.description), band->median, band->low, band->high, unit_of(output.unit)});
  }
  section.blocks.emplace_back(table);
  return section;
}

}  // namespace

Document estimate_document(const study::LoadedCase& loaded, const model::Estimate& e,
                           const study::UncertaintyReport* doubt) {
  Document document{"Estimate of " + loaded.file.name, {}};
  auto& blocks = document.blocks;
  if (!loaded.file.input.purpose.empty()) blocks.emplace_back(Sentence{loaded.file.input.purpose});
  Quantities answer;
  for (AnswerRow& row : answer_rows(loaded, e)) answer.rows.push_back({"", std::move(row.label), std::move(row.text)});
  blocks.emplace_back(answer);
  if (e.status == model::Status::done) {
    blocks.emplace_back(Section{"Results", "", {results_table(e)}});
    blocks.emplace_back(Section{"Dimensionless groups", "", {groups_table(e)}});
    blocks.emplace_back(Section{"Properties of the solution", "", {properties(e)}});
  }
  if (doubt != nullptr) blocks.emplace_back(uncertainty_section(*doubt));
  Section warnings{"Warnings"};
  for (const model::Warning& warning : e.warnings)
    warnings.blocks.emplace_back(Sentence{warning.code + ": " + warning.text});
  if (!warnings.blocks.empty()) blocks.emplace_back(warnings);
  return document;
}

Document cautions_document(const study::LoadedCase& loaded) {
  Document document{"Cautions for " + loaded.file.name, {}};
  const model::CaseInput& input = loaded.file.input;
  for (const auto& paragraph : io::full_cautions(input, loaded.library.solvent(input.solution.solvent)))
    document.blocks.emplace_back(Sentence{paragraph});
  return document;
}

}  // namespace whorl::answer
