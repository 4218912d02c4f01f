#include "answer/estimate_statement.hpp"

#include <algorithm>
#include <nlohmann/json.hpp>
#include <utility>

#include "answer/provenance.hpp"
#include "console/page.hpp"
#include "document/write.hpp"
#include "whorl/io/cautions.hpp"
#include "whorl/io/prose.hpp"
#include "whorl/study/trial_calibration.hpp"

namespace whorl::answer {
namespace {

using Json = nlohmann::ordered_json;
using namespace document;

List for_machines(const char* key, const std::vector<std::string>& texts) {
  List list{key, {}, {}, false, true};
  for (const std::string& text : texts) list.items.emplace_back(text);
  return list;
}

std::vector<Block> facts_of(const study::LoadedCase& loaded, const model::Estimate& e) {
  Quantities rows{{fact("case", loaded.file.name), fact("case_sha256", loaded.file.hash),
                   fact("purpose", loaded.file.input.purpose), fact("status", std::string(to_string(e.status))),
                   fact("reason", e.reason), fact("tier", e.tier)}};
  if (!e.jet.convergence.empty()) rows.rows.push_back(fact("convergence", e.jet.convergence));
  rows.rows.push_back(fact("drying", e.drying_model));
  if (e.status != model::Status::done) return {rows};
  rows.rows.push_back(fact("class", std::string(to_string(e.fibre_class))));
  rows.rows.push_back(fact("landing", std::string(to_string(e.landing))));
  return {rows, for_machines("decided_by", e.decided_by)};
}

// Warnings with their codes, notes, cautions and what a calibration did; people read them above.
void add_ends(std::vector<Block>& blocks, const study::LoadedCase& loaded, const model::Estimate& e,
              const study::UncertaintyReport* doubt) {
  Table warnings{"warnings", {}, {{"code", {}}, {"text", {}}}, {}};
  for (const model::Warning& warning : e.warnings) warnings.rows.push_back({warning.code, warning.text});
  blocks.emplace_back(warnings);
  if (loaded.trials) blocks.emplace_back(Data{Json{{"calibrated", study::calibrated_json(loaded)}}.dump()});
  blocks.emplace_back(for_machines("notes", loaded.file.notes));
  const model::CaseInput& input = loaded.file.input;
  blocks.emplace_back(
      for_machines("cautions", io::short_cautions(input, loaded.library.solvent(input.solution.solvent))));
  if (doubt == nullptr) return;
  Json json{{"uncertainty", study::uncertainty_json(*doubt)}};
  if (loaded.trials) json["uncertainty"]["trials"] = "not in the samples: the band of the answer has them";
  blocks.emplace_back(Data{json.dump()});
}

Section uncertainty_section(const study::UncertaintyReport& report) {
  Section section{"How certain"};
  const bool two = report.all.in_full < report.all.samples;
  section.blocks.emplace_back(Sentence{
      "Median and 5 to 95 % band of " + std::to_string(report.all.samples) + " samples of every doubt; " +
      (two ? std::to_string(report.all.in_full) + " of them run in full, with tension, which correct the others; " : "") +
      std::to_string(report.all.not_converged) + (two ? " of those in full" : " of them") + " without a result."});
  Table table{"", {}, {{"", "quantity"}, {"", "median"}, {"", "5 %"}, {"", "95 %"}, {"", "unit"}}, {}};
  for (std::size_t k = 0; k < report.outputs.size(); ++k) {
    const auto& band = report.all.bands[k];
    if (!band) continue;
    const io::Output& output = *report.outputs[k];
    table.rows.push_back({std::string(output.description), band->median, band->low, band->high,
                          std::string(output.unit == "1" ? "" : output.unit)});
  }
  section.blocks.emplace_back(table);
  return section;
}

// A number and its unit stay on one line: the blank between them is no place to fold.
std::string folded_together(std::string text, std::size_t indent, std::size_t width) {
  constexpr char kJoined = '\x1f';
  for (const char* unit : {"g/h", "um", "%", "s", "min", "h", "mm", "rpm", "MPa", "g", "degC", "normal L/min"}) {
    const std::string behind = std::string(" ") + unit;
    for (std::size_t at = 0; (at = text.find(behind, at)) != std::string::npos; at += 1) {
      const std::size_t end = at + behind.size();
      const bool whole = end == text.size() || std::string_view(" ,;.)").find(text[end]) != std::string_view::npos;
      if (whole && at > 0 && text[at - 1] >= '0' && text[at - 1] <= '9')
        std::replace(text.begin() + static_cast<std::ptrdiff_t>(at), text.begin() + static_cast<std::ptrdiff_t>(end),
                     ' ', kJoined);
    }
  }
  std::string out = io::folded(text, indent, width);
  std::replace(out.begin(), out.end(), kJoined, ' ');
  return out;
}

// The answer as it stands first on a terminal. What is least one's own goes where it gets too long; --full has it.
std::string first_text(Table answer, bool all) {
  constexpr std::ptrdiff_t kMostLines = 12;
  constexpr std::size_t kUsualColumns = 80;
  constexpr std::size_t kLabel = 11;
  const auto text = [&] {
    std::string out;
    for (const auto& row : answer.rows) {
      std::string label = std::get<std::string>(row[0]);
      label.resize(std::max(label.size() + 1, kLabel), ' ');
      out += folded_together(label + std::get<std::string>(row[1]), kLabel, console::page_columns());
    }
    return out;
  };
  for (const char* spare : {"PUBLISHED", "DECIDED BY"}) {
    const std::string out = text();
    if (all || console::page_columns() < kUsualColumns || std::count(out.begin(), out.end(), '\n') <= kMostLines)
      return out;
    std::erase_if(answer.rows, [&](const auto& row) { return std::get<std::string>(row[0]) == spare; });
  }
  return text();
}

}  // namespace

EstimateStatement estimate_statement(const study::LoadedCase& loaded, const model::Estimate& e) {
  EstimateStatement out{facts_of(loaded, e), answer_table(loaded, e), {}, estimate_numbers(loaded, e)};
  const EstimateNumbers& n = out.numbers;
  const Json numbers = document::json_of({{}, {n.results, n.budget, n.air, n.gas}});
  out.words = estimate_words(loaded, e, numbers);
  return out;
}

Document estimate_document(const study::LoadedCase& loaded, const model::Estimate& e,
                           const study::UncertaintyReport* doubt) {
  const EstimateStatement said = estimate_statement(loaded, e);
  const EstimateWords& w = said.words;
  const EstimateNumbers& n = said.numbers;
  Document document{"Estimate of " + loaded.file.name, said.facts};
  auto& blocks = document.blocks;
  blocks.emplace_back(Sentence{loaded.file.input.purpose});
  blocks.insert(blocks.end(), {n.answers, said.answer, w.cautions, w.result, w.warnings, w.decided, w.air, w.gas});
  blocks.insert(blocks.end(), {n.results, n.groups, n.properties, n.budget, n.run, n.air, n.gas});
  if (doubt != nullptr) blocks.emplace_back(uncertainty_section(*doubt));
  add_ends(blocks, loaded, e, doubt);
  return document;
}

Json estimate_json(const study::LoadedCase& loaded, const model::Estimate& e, const study::UncertaintyReport* doubt) {
  Json json;
  put_provenance(json, {basis_of(loaded)});
  json.update(document::json_of(estimate_document(loaded, e, doubt)));
  return json;
}

std::string estimate_text(const study::LoadedCase& loaded, const model::Estimate& e, bool full,
                          const study::UncertaintyReport* doubt) {
  if (!full) {
    std::string out = first_text(answer_table(loaded, e), false);
    if (doubt != nullptr && loaded.trials)
      out += "\nThe samples below are of the model before the trials; the answer above has the trials in it.\n";
    return doubt == nullptr ? out : out + '\n' + study::uncertainty_text(*doubt);
  }
  const EstimateStatement said = estimate_statement(loaded, e);
  const EstimateWords& w = said.words;
  const std::string& purpose = loaded.file.input.purpose;
  const Document page{purpose.empty() ? loaded.file.name : purpose,
                      {w.result, w.warnings, w.decided, w.air, w.air_rows, w.gas, w.gas_rows}};
  const std::size_t columns = console::page_columns();
  std::string out = first_text(said.answer, true) + '\n' + document::write_text(page, columns) + '\n';
  if (doubt != nullptr) out += study::uncertainty_text(*doubt) + '\n';
  return out + document::write_text({{}, {w.rests, w.cautions}, provenance_text({basis_of(loaded)})}, columns);
}

Document cautions_document(const study::LoadedCase& loaded) {
  Document document{"Cautions for " + loaded.file.name, {}};
  const model::CaseInput& input = loaded.file.input;
  for (const auto& paragraph : io::full_cautions(input, loaded.library.solvent(input.solution.solvent)))
    document.blocks.emplace_back(Sentence{paragraph});
  return document;
}

}  // namespace whorl::answer
