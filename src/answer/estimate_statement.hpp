// What an estimate says, said once. Terminal, JSON, Markdown, LaTeX, HTML and the report page are written from this:
// sentences with the numbers that stand in the tables (estimate_words.cpp), and the tables (estimate_numbers.cpp).
#pragma once
#include <nlohmann/json_fwd.hpp>
#include <string>
#include <vector>

#include "document/document.hpp"
#include "whorl/model/result.hpp"
#include "whorl/study/loaded_case.hpp"
#include "whorl/study/uncertainty.hpp"

namespace whorl::answer {

/// The tables, with keys for machines and headings for people.
struct EstimateNumbers {
  document::Section answers;  ///< both answers with their chances; machines only
  document::Section results, groups, properties, budget, run, air, gas;
};
[[nodiscard]] EstimateNumbers estimate_numbers(const study::LoadedCase& loaded, const model::Estimate& estimate);

/// Every result that the estimate has: a row of column, description, symbol, value and unit.
[[nodiscard]] document::Table results_table(const model::Estimate& estimate);

/// The sentences: rows of what they are about and what is said.
struct EstimateWords {
  document::Section result, warnings, decided, air, gas, rests, cautions;
  document::Section air_rows, gas_rows;  ///< the variants, for a terminal: elsewhere their tables stand below
};
/// `numbers`: JSON of the tables, which the sentences quote.
[[nodiscard]] EstimateWords estimate_words(const study::LoadedCase& loaded, const model::Estimate& estimate,
                                           const nlohmann::ordered_json& numbers);

/// What may be seen on the collector, likeliest first: word for machines, words for people, chance, and the chance in
/// whole percent, which add up to 100 with those that are told.
struct SeenOutcome {
  const char* key;
  const char* words;
  double chance;
  std::string percent{};
};
[[nodiscard]] std::vector<SeenOutcome> seen_outcomes(const model::Outcomes& outcomes);
/// "12 %", "under 1 %", "over 99 %".
[[nodiscard]] std::string chance_text(double chance);
/// "54 s", "12 min", "25 days"
[[nodiscard]] std::string duration_text(double seconds, int digits = 2);

/// "torn threads" or "unsplit line".
[[nodiscard]] const char* name_of_answer(bool torn);
/// Whether the other answer is told, too.
[[nodiscard]] bool two_answers(const model::Estimate& estimate);

/// What stands first: at most twelve rows of a terminal (estimate_answer.cpp).
[[nodiscard]] document::Table answer_table(const study::LoadedCase& loaded, const model::Estimate& estimate);
/// A row of it where there is no command line: the options that it names stand for what the page has below.
[[nodiscard]] std::string without_options(std::string text);

struct EstimateStatement {
  std::vector<document::Block> facts;  ///< the case and how the estimate ended; machines only
  document::Table answer;
  EstimateWords words;
  EstimateNumbers numbers;
};
[[nodiscard]] EstimateStatement estimate_statement(const study::LoadedCase& loaded, const model::Estimate& estimate);

/// All of it, in the order of JSON. `doubt`: of --uncertainty, or nullptr.
[[nodiscard]] document::Document estimate_document(const study::LoadedCase& loaded, const model::Estimate& estimate,
                                                   const study::UncertaintyReport* doubt = nullptr);
[[nodiscard]] nlohmann::ordered_json estimate_json(const study::LoadedCase& loaded, const model::Estimate& estimate,
                                                   const study::UncertaintyReport* doubt = nullptr);

/// On a terminal: the answer and, where `full`, the sentences behind it.
[[nodiscard]] std::string estimate_text(const study::LoadedCase& loaded, const model::Estimate& estimate, bool full,
                                        const study::UncertaintyReport* doubt = nullptr);

/// What --cautions prints.
[[nodiscard]] document::Document cautions_document(const study::LoadedCase& loaded);

}  // namespace whorl::answer
