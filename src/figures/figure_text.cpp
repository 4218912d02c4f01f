#include "figures/figure_text.hpp"

#include <algorithm>
#include <array>
#include <cctype>
#include <charconv>
#include <cmath>

#include "io/names.hpp"
#include "io/unit_table.hpp"
#include "whorl/io/keys.hpp"
#include "whorl/io/outputs.hpp"
#include "whorl/io/profile_table.hpp"

namespace whorl::figures {
namespace {

struct Letter {
  std::string_view word, sign;
};
constexpr std::array kGreek{Letter{"alpha", "α"},   Letter{"beta", "β"},  Letter{"gamma", "γ"}, Letter{"delta", "δ"},
                            Letter{"epsilon", "ε"}, Letter{"eta", "η"},   Letter{"theta", "θ"}, Letter{"kappa", "κ"},
                            Letter{"lambda", "λ"},  Letter{"mu", "μ"},    Letter{"nu", "ν"},    Letter{"xi", "ξ"},
                            Letter{"pi", "π"},      Letter{"rho", "ρ"},   Letter{"sigma", "σ"}, Letter{"tau", "τ"},
                            Letter{"phi", "φ"},     Letter{"chi", "χ"},   Letter{"psi", "ψ"},   Letter{"omega", "ω"},
                            Letter{"Omega", "Ω"},   Letter{"Delta", "Δ"}, Letter{"Pi", "Π"}};

std::string_view greek(std::string_view word) {
  const auto found = std::find_if(kGreek.begin(), kGreek.end(), [&](const Letter& l) { return l.word == word; });
  return found == kGreek.end() ? std::string_view{} : found->sign;
}

std::string words_of(std::string_view column) {
  std::string out(column);
  std::replace(out.begin(), out.end(), '_', ' ');
  if (!out.empty() && out.front() >= 'a' && out.front() <= 'z')
    out.front() = static_cast<char>(out.front() - 'a' + 'A');
  return out;
}

bool is_letter(char c) { return std::isalpha(static_cast<unsigned char>(c)) != 0; }

void add_run(RichText& out, std::string text, bool italic, int script) {
  if (!out.empty() && out.back().italic == italic && out.back().script == script) {
    out.back().text += text;
  } else {
    out.push_back({std::move(text), italic, script});
  }
}

}  // namespace

Quantified quantified(std::string_view column) {
  Quantified out;
  std::string_view stem = column;
  const io::Unit* ending = nullptr;  // the longest that fits
  for (const io::Unit& unit : io::kUnits) {
    if (unit.suffix.empty() || stem.size() <= unit.suffix.size() || !stem.ends_with(unit.suffix)) continue;
    if (ending == nullptr || unit.suffix.size() > ending->suffix.size()) ending = &unit;
  }
  if (ending != nullptr) {
    out.unit = ending->unit;
    stem.remove_suffix(ending->suffix.size());
  }
  out.name = words_of(stem);
  // The tables know better than the suffix.
  if (const io::Output* output = io::find_output(column); output != nullptr) {
    out.unit = output->unit;
    out.symbol = output->symbol;
  } else {
    const auto found_among = [&](const auto& columns) {
      for (const auto& c : columns) {
        if (c.column != column) continue;
        out.unit = c.unit;
        out.symbol = c.symbol;
        return true;
      }
      return false;
    };
    if (!found_among(io::profile_columns()) && !found_among(io::thread_columns())) {
      for (const io::Key& key : io::numeric_keys()) {
        if (key.column != column) continue;
        out.unit = key.display_unit;
        out.name = words_of(key.path.substr(key.path.rfind('.') + 1));
      }
    }
  }
  if (const io::ColumnName* named = io::column_name(column); named != nullptr) {
    out.name = named->name;
    out.symbol = named->symbol;
  }
  if (out.unit == "1") out.unit.clear();
  return out;
}

RichText rich_symbol(std::string_view symbol) {
  RichText out;
  if (symbol == "du/ds") return {{"d", false, 0}, {"u", true, 0}, {"/d", false, 0}, {"s", true, 0}};
  if (symbol == "dT_dew") return {{"Δ", false, 0}, {"T", true, 0}, {"dew", false, -1}};
  int script = 0;
  for (std::size_t at = 0; at < symbol.size();) {
    const char c = symbol[at];
    if (c == '_') {
      script = -1;
      ++at;
    } else if (is_letter(c)) {
      std::size_t end = at;
      while (end < symbol.size() && is_letter(symbol[end])) ++end;
      const std::string_view word = symbol.substr(at, end - at);
      const std::string_view sign = greek(word);
      add_run(out, std::string(sign.empty() ? word : sign), script == 0, script);
      at = end;
    } else {
      if (c == ' ' || c == '/' || c == '(' || c == ')') script = 0;
      add_run(out, c == ' ' ? std::string("\u00a0") : c == '-' ? std::string("−") : std::string(1, c), false, script);
      ++at;
    }
  }
  return out;
}

RichText rich_unit(std::string_view unit) {
  if (unit == "1/s") return {{"s", false, 0}, {"−1", false, 1}};
  RichText out;
  std::string word;
  const auto flush = [&] {
    if (word.empty()) return;
    if (word == "degC") word = "°C";
    if (word.size() > 1 && word.front() == 'u') word = "µ" + word.substr(1);
    add_run(out, word, false, 0);
    word.clear();
  };
  for (std::size_t at = 0; at < unit.size(); ++at) {
    const char c = unit[at];
    if (is_letter(c)) {
      word += c;
      continue;
    }
    const bool power = std::isdigit(static_cast<unsigned char>(c)) != 0 && !word.empty();
    flush();
    add_run(out, c == ' ' ? std::string("\u00a0") : std::string(1, c), false, power ? 1 : 0);
  }
  flush();
  return out;
}

RichText rich_quotient(const Quantified& quantity) {
  RichText out = rich_symbol(quantity.symbol);
  if (quantity.unit.empty()) return out;
  RichText unit = rich_unit(quantity.unit);
  if (out.empty()) return unit;
  const bool quotient = quantity.unit.find('/') != std::string::npos && quantity.unit != "1/s";
  out.push_back({quotient ? " / (" : " / ", false, 0});
  for (auto& run : unit) out.push_back(std::move(run));
  if (quotient) out.push_back({")", false, 0});
  return out;
}

RichText rich_label(const Quantified& quantity) {
  RichText out;
  const RichText rest = rich_quotient(quantity);
  if (quantity.name.empty()) return rest;
  std::string name = quantity.name;
  if (!rest.empty()) name += quantity.symbol.empty() ? " / " : " ";
  out.push_back({name, false, 0});
  out.insert(out.end(), rest.begin(), rest.end());
  return out;
}

std::string plain_unit(std::string_view unit) { return unit == "1" ? std::string() : unstyled(rich_unit(unit)); }

std::string caption_label(const Quantified& quantity) {
  std::string out = quantity.name;
  if (!out.empty() && out.front() >= 'A' && out.front() <= 'Z' &&
      (out.size() < 2 || !std::isupper(static_cast<unsigned char>(out[1]))))
    out.front() = static_cast<char>(out.front() - 'A' + 'a');
  return out;
}

std::string print_number(double value, int digits) {
  std::array<char, 64> buffer{};
  // Shortest text of the value rounded to the digits: through the general format, then fixed.
  const auto general =
      std::to_chars(buffer.data(), buffer.data() + buffer.size(), value, std::chars_format::general, digits);
  double rounded = 0.0;
  std::from_chars(buffer.data(), general.ptr, rounded);
  const double size = std::abs(rounded);
  if (size != 0.0 && (size >= 1e7 || size < 1e-4)) {
    const auto shortest =
        std::to_chars(buffer.data(), buffer.data() + buffer.size(), rounded, std::chars_format::scientific);
    std::string text(buffer.data(), shortest.ptr);
    return text.front() == '-' ? "−" + text.substr(1) : text;
  }
  const auto fixed = std::to_chars(buffer.data(), buffer.data() + buffer.size(), rounded, std::chars_format::fixed);
  std::string text(buffer.data(), fixed.ptr);
  const bool negative = !text.empty() && text.front() == '-';
  if (negative) text.erase(0, 1);
  const std::size_t point = std::min(text.find('.'), text.size());
  if (point >= 5)
    for (std::size_t at = point; at > 3; at -= 3) text.insert(at - 3, "\u2009");
  return negative ? "−" + text : text;
}

}  // namespace whorl::figures
